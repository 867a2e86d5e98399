"""`bedjoint materials`: print the tables, each number with its range, source and status."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from sim.materials import Value

WIDTH = 100
NAMES = ("rock", "wood", "glass", "mat", "glue", "ground", "friction", "water")
SALT_PPT = 35.0
TEMPERATURES_C = (15.0, 20.0, 22.0, 24.0, 25.0, 26.0, 28.0, 30.0)
WATER_SOURCES = (
    "fresh: Tanaka et al. 2001, Metrologia 38:301-309 (formula from memory)",
    "salt: Millero & Poisson 1981, Deep-Sea Res. 28A:625-629, EOS-80 (read in a published copy)",
    "index against air at 589 nm: IAPWS R9-97 (from memory); salt by Quan & Fry 1995 (from memory)",
)


@click.command
@click.argument("table", required=False, type=click.Choice(NAMES, case_sensitive=False))
@click.option("--json", "as_json", is_flag=True, help="Print JSON: every value with range, unit, source and status.")
def command(table: str | None, as_json: bool) -> None:
    """Print the tables of rock, wood, glass, mats, glue, ground, friction and water.

    Each number is what the tool uses where you give nothing. Below it stands its range, and in
    brackets its source, listed under the table with what that source is worth.

    \b
    Example:  bedjoint materials glue
              bedjoint materials rock --json
    """
    chosen = NAMES if table is None else (table,)
    if as_json:
        import json

        click.echo(json.dumps({name: _rows_as_json(name) for name in chosen}, indent=2))
        return
    console = _console()
    for name in chosen:
        _print_table(console, name)


Words = tuple[tuple[str, Callable[[Any], str]], ...]  # title of a column and what it says of a row


@dataclass(frozen=True, slots=True)
class Column:
    """One column of numbers: its title, where a row keeps the value, and the factor to the printed unit."""

    title: str
    value: Callable[[Any], Value | None]
    factor: float = 1.0


@dataclass(frozen=True, slots=True)
class Sheet:
    """One printed table: its rows, columns of values and columns of words."""

    title: str
    rows: Sequence[Any]
    columns: Sequence[Column]
    words: Words = ()


def _rows(name: str) -> Sequence[Any]:
    from sim import materials

    tables: dict[str, Iterable[Any]] = {
        "rock": materials.ROCKS.values(),
        "wood": materials.WOODS.values(),
        "glass": materials.GLASSES.values(),
        "mat": materials.MATS.values(),
        "glue": materials.ADHESIVES.values(),
        "ground": materials.GROUNDS.values(),
        "friction": materials.FRICTION.items(),
    }
    return list(tables[name])


def _sheets(name: str) -> list[Sheet]:
    """The printed tables of a name; all but glue have one."""
    rows = _rows(name)
    if name == "rock":
        words: Words = (("surface", lambda row: row.surface), ("carbonate", lambda row: _yes(row.carbonate)))
        return [Sheet("Rock", rows, _ROCK, words)]
    if name == "wood":
        return [Sheet("Wood", rows, _WOOD, (("soaked through kg/m3", _soaked),))]
    if name == "glass":
        return [Sheet("Glass: tension", rows, _GLASS), Sheet("Glass: stiffness and weight", rows, _PANE)]
    if name == "glue":
        fit: Words = (
            ("carries load", lambda row: _yes(row.structural)),
            ("on wet rock", lambda row: _yes(row.on_wet_rock)),
        )
        return [Sheet("Glue: strength", rows, _GLUE_STRENGTH, fit), Sheet("Glue: use", rows, _GLUE_USE)]
    titles = {"mat": "Mats under the tank", "ground": "Ground", "friction": "Friction"}
    columns = {"mat": _MAT, "ground": _GROUND, "friction": _FRICTION}
    return [Sheet(titles[name], rows, columns[name])]


_ROCK = (
    Column("density kg/m3", lambda row: row.density_kg_m3),
    Column("open pores %", lambda row: row.porosity, 100.0),
    Column("tensile strength MPa", lambda row: row.tensile_mpa),
)
_WOOD = (Column("air-dry kg/m3", lambda row: row.density_kg_m3),)
_GLASS = (
    Column("strength, short load MPa", lambda row: row.f_gk_mpa),
    Column("for good: surface MPa", lambda row: row.surface_mpa if row.judged_as else None),
    Column("for good: edge MPa", lambda row: row.edge_mpa if row.judged_as else None),
    Column("for good: abraded MPa", lambda row: row.abraded_mpa if row.judged_as else None),
)
_PANE = (
    Column("density kg/m3", lambda row: row.density_kg_m3),
    Column("stiffness GPa", lambda row: row.youngs_pa, 1e-9),
    Column("Poisson", lambda row: row.poisson),
)
_MAT = (
    Column("density kg/m3", lambda row: row.density_kg_m3),
    Column("stiffness MPa", lambda row: row.youngs_mpa),
    Column("for good kPa", lambda row: row.permanent_kpa),
    Column("at 5 % strain kPa", lambda row: row.at_5_percent_kpa),
    Column("at 10 % strain kPa", lambda row: row.at_10_percent_kpa),
)
_GLUE_STRENGTH = (
    Column("on rough stone MPa", lambda row: row.strength_mpa),
    Column("divided by", lambda row: row.divisor),
    Column("for good MPa", lambda row: row.permanent_mpa),
    Column("stiffness MPa", lambda row: row.youngs_pa, 1e-6),
)
_GLUE_USE = (
    Column("gap mm", lambda row: row.gap_mm),
    Column("holds after min", lambda row: row.fixture_min),
    Column("full after h", lambda row: row.cure_h),
    Column("density kg/m3", lambda row: row.density_kg_m3),
    Column("into pores mm", lambda row: row.pore_depth_mm),
    Column("bought per used", lambda row: row.waste),
)
_GROUND = (
    Column("dry kg/m3", lambda row: row.dry_kg_m3),
    Column("flooded kg/m3", lambda row: row.flooded_kg_m3),
    Column("repose, dry degrees", lambda row: row.repose_deg),
)
_FRICTION = (Column("dry", lambda pair: pair[1][0]), Column("wet", lambda pair: pair[1][1]))


def _yes(flag: bool) -> str:
    return "yes" if flag else "no"


def _soaked(wood: Any) -> str:
    from sim import materials

    return f"{materials.saturated_density_kg_m3(wood.basic_gravity, materials.water_density_kg_m3(24.0)):.0f}"


def _name(row: Any) -> str:
    return " on ".join(_ends(row[0])) if isinstance(row, tuple) else str(row.name)


def _ends(pair: frozenset[str]) -> list[str]:
    """Both surfaces of a pair in the order of the table, the same twice where they are equal."""
    from sim import materials

    ends = [name for name in materials.SURFACES if name in pair]
    return ends if len(ends) == 2 else ends * 2


def _console() -> Console:
    """A console of at most 100 columns; exactly 100 where the output is no terminal."""
    from rich.console import Console

    console = Console(highlight=False, markup=False, emoji=False)
    console.width = min(WIDTH, console.width) if console.is_terminal else WIDTH
    return console


def _print_table(console: Console, name: str) -> None:
    if name == "water":
        _print_water(console)
        return
    sources: dict[tuple[str, str], int] = {}
    for sheet in _sheets(name):
        _print_sheet(console, sheet, sources)
    for line in _notes(name):
        _print_hanging(console.width, "-", line)
    click.echo()
    for (source, status), number in sources.items():
        _print_hanging(console.width, f"[{number}]", f"{source} ({status})")
    click.echo()


def _empty(title: str) -> Table:
    from rich import box
    from rich.table import Table

    return Table(title=title, box=box.SIMPLE_HEAD, title_justify="left", pad_edge=False, padding=(0, 1, 0, 0))


def _print_sheet(console: Console, sheet: Sheet, sources: dict[tuple[str, str], int]) -> None:
    table = _empty(sheet.title)
    table.add_column("", min_width=max(len(word) for row in sheet.rows for word in _name(row).split()))
    for title in [column.title for column in sheet.columns] + [title for title, _ in sheet.words]:
        table.add_column(title)
    for row in sheet.rows:
        cells = [_cell(column.value(row), column.factor, sources) for column in sheet.columns]
        table.add_row(_name(row), *cells, *(word(row) for _, word in sheet.words))
    console.print(table)


def _cell(value: Value | None, factor: float, sources: dict[tuple[str, str], int]) -> str:
    """Default and the number of its source, below it the range."""
    if value is None:
        return "-"
    number = sources.setdefault((value.source, value.status), len(sources) + 1)
    default, low, high = (f"{float(f'{each * factor:.4g}'):g}" for each in (value.default, value.low, value.high))
    return f"{default} [{number}]" + ("" if low == high else f"\n{low}-{high}")


def _print_hanging(width: int, mark: str, text: str) -> None:
    """A mark and a text whose later lines stay clear of it."""
    import textwrap

    for line in textwrap.wrap(text, width, initial_indent=f"{mark:<5}", subsequent_indent=" " * 5):
        click.echo(line)


def _notes(name: str) -> Iterator[str]:
    """What the numbers of a table do not say."""
    from sim import materials

    rows = _rows(name)
    if name == "rock":
        yield from _grouped((row, [*_behaviour(row), row.note]) for row in rows)
    elif name == "glue":
        yield from _grouped((row, [row.rock_note, row.wood_note, *row.hazards]) for row in rows)
        yield f"for good, never more than the stone's tensile strength over {materials.STONE_DIVISOR:g}"
        shares = ", ".join(f"{value.default:g} {face}" for face, value in materials.CONTACT_FRACTIONS.items())
        yield f"share of a patch that the glue really holds: {shares} (judgement)"
    elif name == "friction":
        yield from (f"{surface}: {meaning}" for surface, meaning in materials.SURFACES.items())
        yield "a pair that is not listed takes the lower of what its two surfaces have against rough stone"
    else:
        yield from _grouped((row, [row.note]) for row in rows)
        if name == "wood":
            yield f"soaked through: all pores full; over {materials.SLOW_SOAKING_MM:g} mm thick it may take months"


def _behaviour(rock: Any) -> list[str]:
    return [text for flag, text in ((rock.splits, "splits"), (rock.slakes, "may slake in water")) if flag]


def _grouped(rows: Iterable[tuple[Any, Iterable[str]]]) -> Iterator[str]:
    """Each note once, with the names of all rows that have it."""
    names: dict[str, list[str]] = {}
    for row, notes in rows:
        for note in notes:
            if note:
                names.setdefault(note, []).append(row.name)
    yield from (f"{', '.join(those)}: {note}" for note, those in names.items())


def _water_rows() -> list[dict[str, float]]:
    from sim.materials import water_density_kg_m3, water_index

    return [
        {
            "temperature_c": temperature_c,
            "fresh_kg_m3": round(water_density_kg_m3(temperature_c), 3),
            "salt_35_ppt_kg_m3": round(water_density_kg_m3(temperature_c, SALT_PPT), 3),
            "fresh_index": round(water_index(temperature_c), 5),
            "salt_35_ppt_index": round(water_index(temperature_c, SALT_PPT), 4),
        }
        for temperature_c in TEMPERATURES_C
    ]


def _print_water(console: Console) -> None:
    table = _empty("Water, 0 to 40 C, 0 to 42 ppt")
    for title in ("C", "fresh kg/m3", "35 ppt kg/m3", "fresh index", "35 ppt index"):
        table.add_column(title, justify="right")
    for row in _water_rows():
        temperature_c, fresh, salt, index, salt_index = row.values()
        table.add_row(f"{temperature_c:g}", f"{fresh:.2f}", f"{salt:.2f}", f"{index:.5f}", f"{salt_index:.4f}")
    console.print(table)
    for source in WATER_SOURCES:
        _print_hanging(console.width, "-", source)
    click.echo()


def _rows_as_json(name: str) -> list[dict[str, Any]]:
    import dataclasses

    if name == "water":
        return [{**row, "sources": list(WATER_SOURCES)} for row in _water_rows()]
    if name == "friction":
        return [
            {"between": _ends(pair), "dry": dataclasses.asdict(dry), "wet": dataclasses.asdict(wet)}
            for pair, (dry, wet) in _rows(name)
        ]
    return [dataclasses.asdict(row) for row in _rows(name)]
