"""The account of a shot as text and as JSON."""

from __future__ import annotations

from pydantic import TypeAdapter

from sim.shot.account import Account, State
from sim.shot.hiding import Remedy
from sim.shot.shows import Part
from sim.units import significant

_ACCOUNTS: TypeAdapter[list[Account]] = TypeAdapter(list[Account])


def accounts_json(accounts: list[Account]) -> str:
    """Accounts as indented JSON: {"shots": [...]}; unknown figures are null."""
    return '{"shots": ' + _ACCOUNTS.dump_json(accounts, indent=2).decode() + "}"


def account_text(account: Account) -> str:
    """An account as tables."""
    lines = [f"{account.title or 'Scene'}: {significant(account.focal_mm)} mm, what shows of the tank"]
    for state in account.states:
        lines += ["", *_state(state)]
    return "\n".join(lines)


def _state(state: State) -> list[str]:
    lines = [
        f"{'flooded' if state.flooded else 'dry':<24}{'seen':>7}  where, mm                         hidden by",
        *(_part(part) for part in state.showing.parts if part.unobstructed),
    ]
    mirrors = state.showing.mirrored_pane_share
    if mirrors is not None:
        pieces = ", ".join(state.showing.mirrored_pieces)
        under = " under water" if state.flooded else ""
        shown = f": {pieces}" if pieces else ""
        lines.append(f"Side panes{under} mirror on {100 * mirrors:.0f} % of what is in view{shown}.")
    lines += [_remedy(remedy) for remedy in state.remedies]
    shape = state.composition
    if shape.left_share is not None and shape.right_share is not None and shape.peak is not None:
        lines.append(
            f"Mass {100 * shape.mass_share:.0f} % of the front opening, {100 * shape.left_share:.0f} : "
            f"{100 * shape.right_share:.0f} left to right; peak at {shape.peak[0]:.2f} of the width "
            f"(thirds .33 .67, golden section .38 .62)."
        )
    lines.append(
        f"Foreground (front quarter of the depth) {100 * shape.foreground_share:.0f} %, "
        f"open space {100 * shape.open_share:.0f} %."
    )
    return lines


def _part(part: Part) -> str:
    runs = ", ".join(f"{start:.0f}-{end:.0f}" for start, end in part.runs_mm[:4])
    runs += ", ..." if len(part.runs_mm) > 4 else ""
    hidden = ", ".join(f"{piece} {100 * share:.0f} %" for piece, share in part.hidden_by[:3])
    share = "-" if part.share is None else f"{100 * part.share:.1f} %"
    return f"{part.name:<24}{share:>7}  {runs:<34}{hidden}".rstrip()


def _remedy(remedy: Remedy) -> str:
    ways = []
    if remedy.shift is not None:
        ways.append(f"the camera {significant(remedy.shift.by_mm)} mm {_towards(remedy.shift.towards)}")
    raised = remedy.raised
    if raised is not None:
        rest = "" if raised.share < 0.005 else f" (then {100 * raised.share:.0f} % still shows)"
        ways.append(f"{raised.piece} {significant(raised.by_mm)} mm higher{rest}")
    words = " or ".join(ways) or "no single shift of the camera and no single piece; set another stone before it"
    return f"To hide the {remedy.edge}: {words}."


def _towards(way: str) -> str:
    return way if way in ("up", "down", "nearer") else f"to the {way}"
