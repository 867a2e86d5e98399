"""Commands of a page carried out on a session."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from sim.contact import Rest
from sim.errors import BedjointError
from sim.yard import protocol as p
from sim.yard.comparing import compared
from sim.yard.session import Session
from sim.yard.shooting import ShotSettings
from sim.yard.wire import Asked

Answer = tuple[str, tuple[str, ...]]  # a sentence for the user, and the pieces that it is about

# these change nothing that another window could have changed meanwhile
ANY_VERSION = (p.Drag, p.Save, p.SaveAs, p.Keep, p.Compare, p.Check, p.AskOrder, p.Shoot, p.Stop)


class OldVersion(BedjointError):
    """A command on a version in which its pieces were otherwise."""


def carry_out(session: Session, asked: Asked) -> p.Done | None:
    """Do what was asked; None for a drag, which is answered by what it shows.

    Raises
    ------
    OldVersion
        When what the command is about has changed since the version that the window shows.
    BedjointError
        When it cannot be done; nothing has changed then.
    """
    with session.lock:
        _check_version(session, asked)
        answer = HANDLERS[type(asked.command)](session, asked.command)
        if isinstance(asked.command, p.Drag):
            return None
        note, pieces = answer
        return p.Done(asked.id, session.version, note, pieces)


def pieces_of(command: Any) -> tuple[str, ...]:
    """The pieces that a command names."""
    named = [*getattr(command, "pieces", ()), *(pose.piece for pose in getattr(command, "poses", ()))]
    named += [*getattr(command, "between", ())]
    named += [name for key in ("piece", "other") if (name := getattr(command, key, None)) is not None]
    return tuple(named)


def _check_version(session: Session, asked: Asked) -> None:
    command = asked.command
    if asked.on is None or asked.on >= session.version or isinstance(command, ANY_VERSION):
        return
    if isinstance(command, (p.Undo, p.Redo)):
        raise OldVersion("Another window has changed the scene meanwhile. Look at it, then undo again.")
    changed = session.changed_since(asked.on, pieces_of(command))
    if changed:
        raise OldVersion(f"{changed[0]} was changed in another window meanwhile. Look at it, then do it again.")


def _set_down(session: Session, command: p.SetDown) -> Answer:
    rests = session.set_down(command.pieces)
    uneasy = [f"{name}: {rest.value}" for name, rest in rests.items() if rest is not Rest.AT_REST]
    if not uneasy:
        return "", command.pieces
    return f"No rest here for {'; '.join(uneasy)}. Turn it, or put it where more carries it.", command.pieces


def _stand_in(session: Session, command: p.AddStandIn) -> Answer:
    if (command.rock is None) == (command.wood is None):
        raise BedjointError("Say which rock or which wood it is.")
    item = session.add_stand_in(
        command.name,
        command.size_mm,
        command.mass_kg,
        rock=command.rock,
        wood=command.wood,
        habit=command.habit,
        seed=command.seed,
    )
    return ("", (session.take(item),)) if command.place else (f"{item} is on the shelf.", ())


def _take(session: Session, command: p.Take) -> Answer:
    return "", (session.take(command.item, command.at_mm),)


def _compare(session: Session, command: p.Compare) -> Answer:
    session.tell(compared(session, command.with_))
    return "", ()


def _shoot(session: Session, command: p.Shoot) -> Answer:
    session.shoot(ShotSettings(command.flooded, command.focal_mm, command.width_px, command.fine))
    return "", ()


def _join(session: Session, command: p.Join) -> Answer:
    session.join(command.between, command.glue, command.kind, capacity_n=command.capacity_n)
    return "", command.between


def _no(result: object) -> Answer:  # noqa: ARG001 -- the new version, which the answer has anyway
    return "", ()


def _quietly(action: Callable[[Session, Any], None]) -> Callable[[Session, Any], Answer]:
    """Carried out, with nothing to say."""

    def run(session: Session, command: Any) -> Answer:
        action(session, command)
        return "", ()

    return run


def _about(action: Callable[[Session, Any], object]) -> Callable[[Session, Any], Answer]:
    """Carried out, with the command's own pieces to pick."""

    def run(session: Session, command: Any) -> Answer:
        action(session, command)
        return "", pieces_of(command)

    return run


HANDLERS: dict[type, Callable[[Session, Any], Answer]] = {
    p.Drag: _about(lambda s, c: s.drag(c.poses)),
    p.Place: _about(lambda s, c: s.place(c.poses)),
    p.Move: _about(lambda s, c: s.move(c.pieces, c.by_mm)),
    p.Turn: _about(lambda s, c: s.turn(c.pieces, c.axis, c.by_deg, c.together)),
    p.SetDown: _set_down,
    p.Level: _about(lambda s, c: s.level(c.pieces)),
    p.Snap: _about(lambda s, c: s.snap(c.piece, c.to, c.other)),
    p.Duplicate: lambda s, c: ("", tuple(s.duplicate(c.pieces))),
    p.Delete: lambda s, c: _no(s.delete(c.pieces)),
    p.Hide: _about(lambda s, c: s.hide(c.pieces, c.hidden)),
    p.Lock: _about(lambda s, c: s.lock_pieces(c.pieces, c.locked)),
    p.Fix: _about(lambda s, c: s.fix(c.pieces, c.fixed)),
    p.Group: _about(lambda s, c: s.group(c.pieces, c.name)),
    p.Ungroup: lambda s, c: _no(s.ungroup(c.module)),
    p.Take: _take,
    p.Discard: lambda s, c: _no(s.discard(c.item)),
    p.AddStandIn: _stand_in,
    p.Join: _join,
    p.Unjoin: _about(lambda s, c: s.unjoin(c.between)),
    p.SetCamera: lambda s, c: _no(s.set_camera(c)),
    p.SetWater: lambda s, c: _no(s.set_water(c.level_mm)),
    p.Undo: lambda s, c: (f"Undone: {s.undo()}.", ()),  # noqa: ARG005
    p.Redo: lambda s, c: (f"Done again: {s.redo()}.", ()),  # noqa: ARG005
    p.Save: _quietly(lambda s, c: s.save()),  # noqa: ARG005
    p.SaveAs: _quietly(lambda s, c: s.save_as(c.name, c.replace)),
    p.Keep: _quietly(lambda s, c: s.keep(c.name)),
    p.Compare: _compare,
    p.Check: _quietly(lambda s, c: s.check()),  # noqa: ARG005
    p.AskOrder: _quietly(lambda s, c: s.order(c.given, c.seconds)),
    p.Shoot: _shoot,
    p.Stop: _quietly(lambda s, c: s.background.stop(c.job)),
}
