"""`bedjoint materials`: print the tables, each number with its range, source and status."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from rich.console import Console

    from sim.materials import Value

WIDTH = 100
NAMES = ("rock", "wood", "glass", "mat", "glue", "ground", "friction", "water")
SALT_PPT = 35.0
TEMPERATURES_C = (15.0, 20.0, 22.0, 24.0, 25.0, 26.0, 28.0, 30.0)


@click.command
@click.argument("table", required=False, type=click.Choice(NAMES, case_sensitive=False))
@click.option("--json", "as_json", is_flag=True, help="Print JSON: every value with range, unit, source and status.")
def command(table: str | None, as_json: bool) -> None:
    """Print the tables of rock, wood, glass, mats, glue, ground, friction and water.

    Each number shows what the tool uses where you give nothing, below it the range, and in brackets
    the source, listed under the table with what it is worth.

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
    columns: tuple[Column, ...]
    words: tuple[tuple[str, Callable[[Any], str]], ...] = ()
    name: Callable[[Any], str] = field(default=lambda row: str(row.name))


def _sheets(name: str) -> list[Sheet]:
    from sim import materials

    if name == "rock":
        columns = (
            Column("density kg/m3", lambda row: row.density_kg_m3),
            Column("open pores %", lambda row: row.porosity, 100.0),
            Column("tensile strength MPa", lambda row: row.tensile_mpa),
        )
        words = (("surface", lambda row: row.surface), ("lime", lambda row: "yes" if row.carbonate else ""))
        return [Sheet("Rock", list(materials.ROCKS.values()), columns, words)]
    if name == "wood":
        columns = (Column("air-dry kg/m3", lambda row: row.density_kg_m3),)
        words = (("soaked through kg/m3", lambda row: f"{_soaked_kg_m3(row):.0f}"),)
        return [Sheet("Wood", list(materials.WOODS.values()), columns, words)]
    if name == "glass":
        columns = (
            Column("strength, short load MPa", lambda row: row.f_gk_mpa),
            Column("allowed for good: surface MPa", lambda row: row.surface_mpa if row.judged_as else None),
            Column("near an edge MPa", lambda row: row.edge_mpa if row.judged_as else None),
            Column("abraded MPa", lambda row: row.abraded_mpa if row.judged_as else None),
            Column("density kg/m3", lambda row: row.density_kg_m3),
            Column("stiffness GPa", lambda row: row.youngs_pa, 1e-9),
            Column("Poisson", lambda row: row.poisson),
        )
        return [Sheet("Glass", list(materials.GLASSES.values()), columns)]
    if name == "mat":
        columns = (
            Column("density kg/m3", lambda row: row.density_kg_m3),
            Column("stiffness MPa", lambda row: row.youngs_mpa),
            Column("for good kPa", lambda row: row.permanent_kpa),
            Column("at 5 % kPa", lambda row: row.at_5_percent_kpa),
            Column("at 10 % kPa", lambda row: row.at_10_percent_kpa),
        )
        return [Sheet("Mats under the tank", list(materials.MATS.values()), columns)]
    if name == "glue":
        return _glue_sheets()
    if name == "ground":
        columns = (
            Column("dry kg/m3", lambda row: row.dry_kg_m3),
            Column("flooded kg/m3", lambda row: row.flooded_kg_m3),
            Column("repose, dry degrees", lambda row: row.repose_deg),
        )
        return [Sheet("Ground", list(materials.GROUNDS.values()), columns)]
    columns = (Column("dry", lambda pair: pair[1][0]), Column("wet", lambda pair: pair[1][1]))
    pairs = list(materials.FRICTION.items())
    return [Sheet("Friction", pairs, columns, name=lambda pair: " on ".join(_ends(pair[0])))]


def _glue_sheets() -> list[Sheet]:
    from sim import materials

    rows = list(materials.ADHESIVES.values())
    strength = (
        Column("strength on rough stone MPa", lambda row: row.strength_mpa),
        Column("divided by", lambda row: row.divisor),
        Column("allowed for good MPa", lambda row: row.permanent_mpa),
        Column("stiffness GPa", lambda row: row.youngs_pa, 1e-9),
    )
    fit = (
        ("carries load", lambda row: "yes" if row.structural else "no"),
        ("on wet rock", lambda row: "yes" if row.on_wet_rock else "no"),
    )
    use = (
        Column("gap mm", lambda row: row.gap_mm),
        Column("holds after min", lambda row: row.fixture_min),
        Column("full after h", lambda row: row.cure_h),
        Column("density kg/m3", lambda row: row.density_kg_m3),
        Column("sinks into pores mm", lambda row: row.pore_depth_mm),
        Column("bought per used", lambda row: row.waste),
    )
    return [Sheet("Glue: strength", rows, strength, fit), Sheet("Glue: use", rows, use)]


def _soaked_kg_m3(wood: Any) -> float:
    from sim import materials

    return materials.saturated_density_kg_m3(wood.basic_gravity, materials.water_density_kg_m3(24.0))


def _ends(pair: frozenset[str]) -> list[str]:
    """Both surfaces of a pair, once more where they are the same, in the order of the table."""
    from sim import materials

    ends = [name for name in materials.SURFACES if name in pair]
    return ends if len(ends) == 2 else ends * 2


def _console() -> Console:
    """A console of at most 100 columns; exactly 100 where the output is no terminal."""
    from rich.console import Console

    stream = click.get_text_stream("stdout")
    console = Console(file=stream, highlight=False, markup=False, emoji=False)
    console.width = min(WIDTH, console.width) if stream.isatty() else WIDTH
    return console


def _print_table(console: Console, name: str) -> None:
    if name == "water":
        _print_water(console)
        return
    sources: dict[tuple[str, str], int] = {}
    for sheet in _sheets(name):
        _print_sheet(console, sheet, sources)
    for line in _notes(name):
        _print_hanging(console, "- ", line)
    for (source, status), number in sources.items():
        _print_hanging(console, f"[{number}] ", f"{source} ({status})")
    console.print()


def _print_sheet(console: Console, sheet: Sheet, sources: dict[tuple[str, str], int]) -> None:
    from rich import box
    from rich.table import Table

    table = Table(title=sheet.title, box=box.SIMPLE_HEAD, title_justify="left", pad_edge=False)
    table.add_column("")
    for title in [column.title for column in sheet.columns] + [title for title, _ in sheet.words]:
        table.add_column(title, justify="left", vertical="top")
    for row in sheet.rows:
        cells = [_cell(column.value(row), column.factor, sources) for column in sheet.columns]
        table.add_row(sheet.name(row), *cells, *(word(row) for _, word in sheet.words))
    console.print(table)


def _cell(value: Value | None, factor: float, sources: dict[tuple[str, str], int]) -> str:
    """Default, below it the range, behind it the number of the source."""
    if value is None:
        return "none"
    number = sources.setdefault((value.source, value.status), len(sources) + 1)
    default, low, high = (f"{each * factor:.4g}" for each in (value.default, value.low, value.high))
    return f"{default} [{number}]" if low == high else f"{default}\n{low}-{high} [{number}]"


def _print_hanging(console: Console, mark: str, text: str) -> None:
    from rich.padding import Padding
    from rich.table import Table
    from rich.text import Text

    grid = Table.grid(padding=0)
    grid.add_column(width=6)
    grid.add_column()
    grid.add_row(Text(mark), Text(text))
    console.print(Padding(grid, 0))


def _notes(name: str) -> Iterator[str]:
    """What the numbers of a table do not say."""
    from sim import materials

    if name == "rock":
        for rock in materials.ROCKS.values():
            flags = [text for flag, text in ((rock.splits, "splits"), (rock.slakes, "may slake")) if flag]
            said = "; ".join([*flags, *([rock.note] if rock.note else [])])
            if said:
                yield f"{rock.name}: {said}"
    elif name == "glue":
        for glue in materials.ADHESIVES.values():
            yield f"{glue.name}: {glue.rock_note}. Wood: {glue.wood_note}"
        hazards = {hazard: None for glue in materials.ADHESIVES.values() for hazard in glue.hazards}
        for hazard in hazards:
            yield f"{', '.join(g.name for g in materials.ADHESIVES.values() if hazard in g.hazards)}: {hazard}"
        yield f"never more than the stone's tensile strength over {materials.STONE_DIVISOR:g}"
        shares = ", ".join(f"{value.default:g} {face}" for face, value in materials.CONTACT_FRACTIONS.items())
        yield f"share of a patch that the glue really holds: {shares} (judgement)"
    elif name == "friction":
        for surface, meaning in materials.SURFACES.items():
            yield f"{surface}: {meaning}"
        yield "a pair that is not listed takes the lower of what its two surfaces have against rough stone"
    elif name == "wood":
        slow = f"pieces over {materials.SLOW_SOAKING_MM:g} mm take weeks"
        yield f"soaked through: by its own pores full of water of 24 C; {slow}"
        yield from (f"{wood.name}: {wood.note}" for wood in materials.WOODS.values() if wood.note)
    else:
        rows: Any = {"glass": materials.GLASSES, "mat": materials.MATS, "ground": materials.GROUNDS}[name]
        notes = {row.note: None for row in rows.values() if row.note}
        for note in notes:
            yield f"{', '.join(row.name for row in rows.values() if row.note == note)}: {note}"


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


WATER_SOURCES = (
    "fresh: Tanaka et al. 2001, Metrologia 38:301-309 (formula from memory)",
    "salt: Millero & Poisson 1981, Deep-Sea Res. 28A:625-629, EOS-80 (read in a published copy)",
    "index against air at 589 nm: IAPWS R9-97 (from memory); salt by Quan & Fry 1995 (from memory)",
)


def _print_water(console: Console) -> None:
    from rich import box
    from rich.table import Table

    table = Table(title="Water, 0 to 40 C, 0 to 42 ppt", box=box.SIMPLE_HEAD, title_justify="left", pad_edge=False)
    for title in ("C", "fresh kg/m3", "35 ppt kg/m3", "fresh index", "35 ppt index"):
        table.add_column(title, justify="right")
    for row in _water_rows():
        table.add_row(
            f"{row['temperature_c']:g}",
            f"{row['fresh_kg_m3']:.2f}",
            f"{row['salt_35_ppt_kg_m3']:.2f}",
            f"{row['fresh_index']:.5f}",
            f"{row['salt_35_ppt_index']:.4f}",
        )
    console.print(table)
    for source in WATER_SOURCES:
        _print_hanging(console, "- ", source)
    console.print()


def _rows_as_json(name: str) -> list[dict[str, Any]]:
    import dataclasses

    from sim import materials

    if name == "water":
        return [{**row, "sources": list(WATER_SOURCES)} for row in _water_rows()]
    if name == "friction":
        return [
            {"between": _ends(pair), "dry": dataclasses.asdict(dry), "wet": dataclasses.asdict(wet)}
            for pair, (dry, wet) in materials.FRICTION.items()
        ]
    rows: Any = _sheets(name)[0].rows
    return [dataclasses.asdict(row) for row in rows]
