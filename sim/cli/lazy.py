"""A command group that imports each of its commands on first use."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from typing import Any

import click

from sim.errors import BedjointError


class LazyGroup(click.Group):
    """Knows its commands by name, as (module, function, one line of help); their modules stay unloaded till they run.

    What goes wrong in a command ends as one message on stderr and exit status 2.
    """

    def __init__(self, *args: Any, lazy: Mapping[str, tuple[str, str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lazy = lazy

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.lazy)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in self.lazy:
            return None
        module, function, _ = self.lazy[cmd_name]
        found: click.Command = getattr(importlib.import_module(module), function)
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, _, text) in self.lazy.items()])

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except BedjointError as error:
            click.echo(f"bedjoint: {error}", err=True)
            ctx.exit(2)
