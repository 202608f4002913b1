"""`gearfit completion`: a script that makes a shell complete commands, options and file names."""

from __future__ import annotations

import argparse
from typing import Final

SHELLS: Final = ("bash", "zsh", "fish")


def add_completion(
    commands: argparse._SubParsersAction[argparse.ArgumentParser], whole: argparse.ArgumentParser
) -> None:
    """Add the command; `whole` is the parser that the script is made of."""
    parser = commands.add_parser(
        "completion",
        help="print a completion script for a shell",
        description="Print a script with which the shell completes commands, options and file names.",
        epilog='Example: eval "$(gearfit completion bash)"',
    )
    parser.add_argument("shell", metavar="SHELL", choices=SHELLS, help=f"one of {', '.join(SHELLS)}")

    def run(arguments: argparse.Namespace) -> int:
        import shtab

        print(shtab.complete(whole, arguments.shell))
        return 0

    parser.set_defaults(run=run)
