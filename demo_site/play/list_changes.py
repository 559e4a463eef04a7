"""A deck of lists as plain files, with the changes a scenario makes to it.

Owns rows of text only; checking and taking over is the consolidator's.
"""

import csv
from collections.abc import Iterable, Mapping
from pathlib import Path

from demo_site.play.scenario import LINE, ScenarioRefused, Told

Row = dict[str, str]


class Deck:
    """List files as rows of text, by list name."""

    def __init__(self, folder: Path) -> None:
        self._heads: dict[str, list[str]] = {}
        self._rows: dict[str, list[Row]] = {}
        for path in sorted(folder.glob("*.csv")):
            with path.open(encoding="utf-8-sig", newline="") as lines:
                reader = csv.DictReader(lines)
                self._rows[path.stem] = [dict(row) for row in reader]
                self._heads[path.stem] = list(reader.fieldnames or ())

    def rows(self, name: str) -> list[Row]:
        """Return the rows of one list."""
        return self._rows.get(name, [])

    def change(self, changes: Iterable[Told]) -> None:
        """Apply changes in the order written.

        Raises:
            ScenarioRefused: a change names no list, no row, or says nothing to do.
        """
        for change in changes:
            self._apply(change)

    def write(self, folder: Path) -> None:
        """Write every list as CSV into `folder`."""
        folder.mkdir(parents=True, exist_ok=True)
        for name, head in self._heads.items():
            with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as out:
                writer = csv.DictWriter(out, head, restval="", lineterminator="\r\n")
                writer.writeheader()
                writer.writerows(self._rows[name])

    def _apply(self, change: Told) -> None:
        name = str(change.get("list", ""))
        if name not in self._rows:
            raise _refused(change, f"There is no list '{name}'.", f"Use one of {', '.join(sorted(self._rows))}.")
        given = {key: value for key, value in change.items() if key not in ("list", LINE)}
        new = self._named(name, given.pop("set", {}), change)
        if "add" in given:
            self._rows[name].append(self._named(name, given["add"], change))
        elif "copy" in given:
            self._rows[name] += [row | new for row in self._found(name, given["copy"], change)]
        elif "remove" in given:
            gone = self._found(name, given["remove"], change)
            self._rows[name] = [row for row in self._rows[name] if row not in gone]
        elif "where" in given and new:
            for row in self._found(name, given["where"], change):
                row.update(new)
        else:
            raise _refused(change, "It says neither add, copy, remove nor where with set.", "Say one of them.")

    def _named(self, name: str, told: Mapping[str, str], change: Told) -> Row:
        row = {key.replace("_", " "): value for key, value in told.items() if key != LINE}
        for key in row:
            if key not in self._heads[name]:
                self._heads[name].append(key)
        return row

    def _found(self, name: str, where: Mapping[str, str], change: Told) -> list[Row]:
        wanted = self._named(name, where, change)
        found = [row for row in self._rows[name] if all(row.get(k, "") == v for k, v in wanted.items())]
        if not found:
            raise _refused(change, f"No row of '{name}' has {wanted}.", "Name rows that are there.")
        return found


def _refused(change: Told, why: str, next_step: str) -> ScenarioRefused:
    what = f"Change to the lists not made (line {change.get(LINE)})."
    return ScenarioRefused(what, why=why, next_step=next_step)
