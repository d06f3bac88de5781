"""What several commands are asked with."""

from pathlib import Path
from typing import Annotated

import typer

FarmFile = Annotated[
    Path | None,
    typer.Argument(metavar="FARM", help="The farm file. Without it farm.toml here, else the starter farm."),
]

FromDay = Annotated[
    str | None,
    typer.Option("--from", metavar="DAY", help="First day of the plan, e.g. 2027-03-01. Without it today."),
]

UntilDay = Annotated[
    str | None,
    typer.Option("--until", metavar="DAY", help="Last day. Without it the last that any program asks for."),
]

MadeAt = Annotated[
    str | None,
    typer.Option(
        "--made-at",
        metavar="MOMENT",
        help="When the plan is made, e.g. 2027-03-01T06:00:00Z. Without it now; "
        "given, the same farm gives the same bytes.",
    ),
]

Code = Annotated[
    bool, typer.Option("--qr", help="Print the code for a camera even where stdout is no terminal.")
]
