"""The tables of labelled.md, from what bench_labelled.py has gathered."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from bench_labelled import Case

ANSWERS = ("stacks", "copies fall", "copies < 1 deg", "copies open", "trial stands", "trial falls", "trial open",
           "STANDS", "DOUBTFUL", "UNDETERMINED", "FALLS")  # fmt: skip
LARGE = 20


def table(cases: list[Case]) -> list[str]:
    """The tables of labelled.md."""
    sizes = [case.stones for case in cases]
    lines = [f"{len(cases)} stacks of {min(sizes)} to {max(sizes)} stones, median {np.median(sizes):.0f}"]
    lines += [", ".join(f"{word} {n}" for word, n in sorted(Counter(names).items())) for names in (
        [case.source for case in cases], [case.kind for case in cases], [case.label for case in cases])]  # fmt: skip
    large = [case for case in cases if case.stones >= LARGE]
    exact = sum(case.source == "exact" for case in large)
    lines.append(f"{len(large)} of {LARGE} stones and more, {exact} of them exact: " + ", ".join(
        f"{case.number} ({case.stones}, {case.label})" for case in large))  # fmt: skip
    lines += ["", "label, source        " + "".join(f"{word:>14}" for word in ANSWERS)]
    for label in ("stable", "marginal", "unstable", "open"):
        for source in ("exact", "generated", "scan"):
            own = Counter(answer for case in cases if (case.label, case.source) == (label, source) for answer in
                          answers(case))  # fmt: skip
            if own:
                lines.append(f"{label:9} {source:11}" + "".join(f"{own[word]:14}" for word in ANSWERS))
    return [*lines, "", *_audits(cases), "", *_drifts(cases), "", *_doubtful(cases)]


def answers(case: Case) -> list[str]:
    """What the judges say of one stack, in the words of the table's head; the last ones are the joint verdict."""
    found = ["stacks", "trial falls" if case.fell else "trial stands" if case.survivals == case.runs else "trial open"]
    if case.statics == "stands":
        if case.robust_deg is None:
            found.append("copies open")
        elif case.by_robust:
            found.append("copies fall" if case.robust_deg == 0.0 else "copies < 1 deg")
    return [*found, case.verdict.upper()]


def _audits(cases: list[Case]) -> list[str]:
    """Exact shapes: what double duration at half the step says of those that stand by statics."""
    audited = [case for case in cases if case.audit]
    lines = ["exact shapes, 6 s at 0.5 ms to the end: stood, fell, open; by who lets them stand"]
    for words, own in (
        ("statics", audited),
        ("statics and copies", [c for c in audited if not c.by_robust and c.robust_deg is not None]),
        ("all judges", [c for c in audited if c.verdict == "stands"]),
    ):
        counts = Counter(case.audit for case in own)
        lines.append(f"  {words:20} {counts['stood']:4} {counts['fell']:4} {counts['open']:4}")
    return [*lines, *(_line(case) for case in audited if case.audit != "stood")]


def _drifts(cases: list[Case]) -> list[str]:
    """Survival and drift of all runs of stacks that stand by statics."""
    lines = ["runs that survive, and the largest drift of a stack's runs in mm (median, 95 %), where statics stands"]
    for source in ("exact", "generated", "scan"):
        own = [case for case in cases if case.source == source and case.statics == "stands"]
        if own:
            drifts = [case.drift_mm for case in own]
            runs = f"{sum(case.survivals for case in own)} of {sum(case.runs for case in own)}"
            lines.append(f"  {source:10} {runs:>12}  {np.median(drifts):.4f}  {np.percentile(drifts, 95):.4f}")
    return lines


def _doubtful(cases: list[Case]) -> list[str]:
    """Doubtful ones among those with a nominal margin over 5 degrees, by cause, and every odd one."""
    wide = [case for case in cases if case.label == "stable"]
    odd = [case for case in wide if case.verdict == "doubtful"]
    causes = Counter("both" if c.by_robust and c.fell else "copies" if c.by_robust else "trial" for c in odd)
    split = ", ".join(f"{word} {causes[word]}" for word in ("copies", "trial", "both"))
    share = 100.0 * len(odd) / max(len(wide), 1)
    lines = [f"doubtful among {len(wide)} stable: {len(odd)} ({share:.1f} %); by {split}"]
    lines += [_line(case) for case in cases if case.label == "stable" and case.verdict != "stands"]
    lines.append("other ones that statics lets stand and the trial lets fall, and falls that the trial lets stand")
    others = [case for case in cases if case.label != "stable" and (case.fell > 0) == (case.statics == "stands")]
    return lines + [_line(case) for case in others]


def _line(case: Case) -> str:
    tilt = "-" if case.tilt_deg is None else f"{case.tilt_deg:.2f}"
    copies = "-" if case.robust_deg is None else f"{case.robust_deg:.2f}"
    trial_words = f"{case.survivals}/{case.runs} survive: {case.trial_reason}"
    audit = f"; audit: {case.audit_reason}" if case.audit else ""
    words = f"{case.statics} {case.reason}".strip()
    return (
        f"  {case.number:3} {case.source:9} {case.kind:10} {case.stones:2} stones, {words}, tilt {tilt}, "
        f"copies {copies}{case.robust_reason and f' ({case.robust_reason})'}, {trial_words}{audit}"
    )
