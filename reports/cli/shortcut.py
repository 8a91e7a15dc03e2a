"""``coilwise shortcut``: an entry in this user's menu that opens the bench page, with an icon of our own.

`shortcut_files` says which files that takes, by the system: a desktop entry with its icon, on Windows a
command in the start menu, on macOS one in the user's applications. Nothing is fetched, and no other user is
concerned.
"""

from __future__ import annotations

import os
import shlex
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Final

import typer

NAME: Final = "coilwise"
EXECUTABLE: Final = 0o755
_DESKTOP: Final = """[Desktop Entry]
Type=Application
Version=1.0
Name=coilwise
Comment={comment}
Exec={command}
Path={folder}
Icon={icon}
Terminal=true
Categories=AudioVideo;Audio;
"""


def shortcut(
    remove: Annotated[bool, typer.Option("--remove", help="Take the entry away again.")] = False,
    folder: Annotated[
        Path | None, typer.Option(help="Where its jobs go; where you stand, if left out.")
    ] = None,
) -> None:
    """Put coilwise among this user's programs: one entry that opens the bench page.

    It works without a network. What a terminal shows stays on the screen beside the page; closing it ends
    the page, and the job folders have everything.

    Example: coilwise shortcut
    """
    from capture.disk.writing import replace_whole
    from reports.messages import overview as words

    files = shortcut_files(
        sys.platform, own_command(), folder=(folder or Path()).resolve(), places=places_of(sys.platform)
    )
    if remove:
        gone = [path for path in files if path.is_file()]
        for path in gone:
            path.unlink()
        typer.echo(words.SHORTCUT_REMOVED if gone else words.NO_SHORTCUT)
        return
    for path, text in files.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        replace_whole(path, text.encode(), mode=EXECUTABLE)
    typer.echo(words.SHORTCUT_MADE.format(path=next(iter(files))))


def own_command() -> tuple[str, ...]:
    """How this program is called: by its own file, else by the Python that it lives in."""
    called = Path(sys.argv[0])
    if called.stem == NAME and called.is_file():
        return (str(called.resolve()),)
    return (sys.executable, "-c", "from reports.cli import main; main()")


def places_of(system: str) -> Mapping[str, Path]:
    """The user's folders for programs and for icons."""
    home = Path.home()
    if system == "win32":
        roaming = Path(os.environ.get("APPDATA") or home / "AppData" / "Roaming")
        return {"menu": roaming / "Microsoft" / "Windows" / "Start Menu" / "Programs"}
    if system == "darwin":
        return {"menu": home / "Applications"}
    data = Path(os.environ.get("XDG_DATA_HOME") or home / ".local" / "share")
    return {"menu": data / "applications", "icons": data / "icons" / "hicolor" / "scalable" / "apps"}


def shortcut_files(
    system: str, command: Sequence[str], *, folder: Path, places: Mapping[str, Path]
) -> dict[Path, str]:
    """The files of the entry with what is in them, the entry first.

    ``system``: as `sys.platform` has it; ``command``: how the program is called; ``folder``: where it stands
    when it runs.
    """
    from reports.messages.overview import SHORTCUT_COMMENT
    from reports.render.icon import ICON

    if system == "win32":
        called = " ".join(f'"{part}"' for part in command)
        return {places["menu"] / f"{NAME}.cmd": f'@cd /d "{folder}"\r\n@{called}\r\n'}
    if system == "darwin":
        called = f"#!/bin/sh\ncd {shlex.quote(str(folder))} && exec {shlex.join(command)}\n"
        return {places["menu"] / f"{NAME}.command": called}
    icon = places["icons"] / f"{NAME}.svg"
    entry = _DESKTOP.format(
        comment=SHORTCUT_COMMENT,
        command=" ".join(map(_quoted, command)),
        folder=_escaped(str(folder)),
        icon=_escaped(str(icon)),
    )
    return {places["menu"] / f"{NAME}.desktop": entry, icon: ICON}


def _escaped(text: str) -> str:
    """A value of a desktop entry: its backslashes doubled, no line breaks."""
    return text.replace("\\", "\\\\").replace("\n", "\\n")


def _quoted(part: str) -> str:
    """One word of a desktop entry's command: quoted, then escaped as every value is."""
    for sign in ("\\", '"', "`", "$"):
        part = part.replace(sign, f"\\{sign}")
    return _escaped(f'"{part}"').replace("%", "%%")
