"""`tickwright sheet`: all that is needed to build a plan, explain it and show it, as files in a folder."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Annotated

import typer

from tickwright import Plan, load_rules
from tickwright.cli.files import check_folder, write_whole
from tickwright.cli.inputs import load
from tickwright.cli.show import AsJson, RulesName, print_json, working
from tickwright.errors import UsageError
from tickwright.extras import need_extra, without_extra
from tickwright.plan import Prices, load_prices, priced_bill, validate
from tickwright.publish import (
    PAPERS,
    SheetFile,
    Style,
    font_note,
    lesson_files,
    make_lesson,
    make_sheet,
    make_site,
    make_together,
    missing_lines,
    sheet_files,
    site_files,
    together_files,
)

_NOT_EXPORTED = (".toml", ".txt", ".json", ".zip")  # suffixes of files that export does not make


def command(
    plans: Annotated[list[Path], typer.Argument(help="Plan files.", metavar="PLAN...")],
    folder: Annotated[Path, typer.Option("--output", "-o", metavar="DIR", help="The folder to write to.")] = Path(
        "sheets"
    ),
    site: Annotated[
        Path | None, typer.Option("--site", metavar="DIR", help="Write a site of them there: cards, pages, downloads.")
    ] = None,
    film: Annotated[
        bool, typer.Option("--film", help="Make films of the first press, too; that takes longer.")
    ] = False,
    lesson: Annotated[
        bool, typer.Option("--lesson", help="Make a lesson of them, too: slides, outline, quiz, films that say why.")
    ] = False,
    paper: Annotated[str, typer.Option("--paper", help=f"The paper of the PDF: {' or '.join(PAPERS)}.")] = "a4",
    dark: Annotated[
        bool, typer.Option("--dark", help="Pictures and charts light on dark; the PDF stays light.")
    ] = False,
    template: Annotated[
        Path | None, typer.Option("--template", metavar="FILE", help="Your own typst template for the PDF.")
    ] = None,
    prices: Annotated[
        Path | None, typer.Option("--prices", metavar="FILE", help="Your price table; without one each part costs 1.")
    ] = None,
    rules: RulesName = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say what would be written, and write nothing.")] = False,
    as_json: AsJson = False,
) -> None:
    """Make the sheets of one or several plans: PDF, interactive page, pictures, charts, bill, waveforms, talk outline.

    Of several plans each has a folder of its own, named after its file, and what they share lies beside. Files of these
    names that are there already are replaced, and nothing else is touched. Ctrl-C keeps what is written.
    """
    if paper not in PAPERS:
        raise UsageError(f'There is no paper "{paper}": use {" or ".join(PAPERS)}.')
    if film:
        need_extra("film")
    table = load_prices(prices) if prices is not None else None
    style = Style(paper, _template(template), "dark" if dark else "light", film)
    loaded = {path: load(path) for path in plans}
    _refuse_a_file_name(site or folder)
    sheets = _Sheets(loaded, site or folder, style, rules, table, lesson, site is not None)
    sheets.check()
    flashes: list[str] = []
    written = sheets.listed() if dry_run else sheets.made(flashes)
    if lesson and (lacking := without_extra("film")):
        flashes.append(f"The films of the lesson were left out. {lacking}")
    _tell(loaded, written, dry_run, as_json, flashes)


class _Sheets:
    """What is to be made of the plans, and where: in `homes` the files of each, in `folder` those that they share."""

    def __init__(
        self,
        loaded: dict[Path, Plan],
        folder: Path,
        style: Style,
        rules: str | None,
        prices: Prices | None,
        lesson: bool,
        site: bool,
    ) -> None:
        self.loaded, self.folder, self.style, self.rules, self.prices = loaded, folder, style, rules, prices
        self.lesson, self.site = lesson, site
        self.homes = _homes(loaded, folder, apart=site)
        self.shared = together_files(len(loaded), style.film) if len(loaded) > 1 else []
        self.shared += lesson_files(len(loaded)) if lesson else []
        self.pages = site_files([home.name for home in self.homes.values()]) if site else []

    def check(self) -> None:
        """Refuse what could not be made or written, before anything is run."""
        check_folder(self.folder, [file.name for file in (*self.shared, *self.pages) if "/" not in file.name])
        for path, plan in self.loaded.items():
            if self.rules is not None:  # else that was looked at when it was loaded
                validate(plan, load_rules(self.rules, path.parent))
            priced_bill(plan, self.prices)
            home = f"{self.homes[path].name}/"
            own = [file.name.removeprefix(home) for file in self.pages if file.name.startswith(home)]
            check_folder(self.homes[path], [*(file.name for file in sheet_files(plan, self.style)), *own])

    def listed(self) -> list[dict[str, object]]:
        """The files, none of them made."""
        own = [
            _row(self.homes[path], file, None)
            for path, plan in self.loaded.items()
            for file in sheet_files(plan, self.style)
        ]
        return own + [_row(self.folder, file, None) for file in (*self.shared, *self.pages)]

    def made(self, flashes: list[str]) -> list[dict[str, object]]:
        """The files, made and written; `flashes` gains what is to be said of films."""
        from tickwright.guiding import MOST_QUESTIONS
        from tickwright.material import gather_material

        written: list[dict[str, object]] = []
        materials = []
        for path, plan in self.loaded.items():
            with working(f"running {path}"):
                material = gather_material(plan, self.rules, self.prices, MOST_QUESTIONS, self.lesson)
            materials.append(material)
            with working(f"making the sheet of {path}") as tell:
                written += _write(self.homes[path], make_sheet(material, self.style, tell, flashes))
        if len(materials) > 1:
            with working("making what they share") as tell:
                written += _write(self.folder, make_together(materials, self.style, tell, flashes))
        if self.lesson:
            with working("making the lesson") as tell:
                written += _write(self.folder, make_lesson(materials, self.style, tell, flashes))
        if self.site:
            with working("making the site"):
                named = {home.name: one for home, one in zip(self.homes.values(), materials, strict=True)}
                more = [file for file in self.shared if file.certain]
                written += _write(self.folder, make_site(named, self.style, more=more))
        return written


def _refuse_a_file_name(folder: Path) -> None:
    """Refuse what is named like a file of a sheet, such as a.pdf: somebody who wants one file gets it by `export`."""
    from tickwright.exporting import FORMATS

    suffix = folder.suffix.lower()
    words = {form.suffix: form.word for form in FORMATS.values()}
    if folder.exists() or (suffix not in words and suffix not in _NOT_EXPORTED):
        return
    one = f"; for that one file use tickwright export PLAN --{words[suffix]} -o {folder}" if suffix in words else ""
    raise UsageError(f'"{folder}" is named like a file, and a sheet is a folder of files: give -o a folder{one}.')


def _template(file: Path | None) -> str | None:
    """The text of the user's template, if there is one."""
    try:
        return file.read_text(encoding="utf-8") if file is not None else None
    except UnicodeDecodeError:
        raise UsageError(f'The template "{file}" is not UTF-8 text: save it with the encoding UTF-8.') from None


def _homes(loaded: dict[Path, Plan], folder: Path, *, apart: bool) -> dict[Path, Path]:
    """The folder of each plan's own files: that of all for a single plan, unless it is to lie apart."""
    if len(loaded) == 1 and not apart:
        return dict.fromkeys(loaded, folder)
    stems: dict[str, Path] = {}
    for path in loaded:
        if (other := stems.setdefault(path.stem.casefold(), path)) is not path:
            raise UsageError(f'"{other}" and "{path}" would share one folder: make their sheets one by one.')
    return {path: folder / path.stem for path in loaded}


def _write(home: Path, made: Iterable[tuple[SheetFile, str | bytes]]) -> list[dict[str, object]]:
    rows = []
    for file, content in made:
        home.mkdir(parents=True, exist_ok=True)  # not before there is something to write
        rows.append(_row(home, file, write_whole(home / file.name, content)))
    return rows


def _row(home: Path, file: SheetFile, size: int | None) -> dict[str, object]:
    return {"file": str(home / file.name), "what": file.what, "certain": file.certain, "bytes": size}


def _tell(
    loaded: dict[Path, Plan], written: list[dict[str, object]], dry_run: bool, as_json: bool, flashes: list[str]
) -> None:
    notes = [f"{path}: {note}" for path, plan in loaded.items() if (note := font_note(plan.title))]
    notes += [f"{path}: {line}" for path, plan in loaded.items() for line in missing_lines(plan)]
    notes += flashes
    if lacking := without_extra("workbench"):
        notes.append(f"The interactive page was left out. {lacking}")
    if as_json:
        print_json({"plans": [str(path) for path in loaded], "dry_run": dry_run, "written": written, "notes": notes})
        return
    for row in written:
        if dry_run:
            doubt = "" if row["certain"] else ", if there is anything to show"
            print(f"{row['file']}: {row['what']}{doubt}")
        else:
            print(f"{row['file']}: {row['what']}, {row['bytes']:,} bytes")
    for note in notes:
        print(note)
    print("Nothing was written." if dry_run else f"{len(written)} files written.")
