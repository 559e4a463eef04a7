"""Any kind of page, written as fields in a scenario file: made into the act it names.

Owns the way from text fields to a page's act; must not know what an act does.
"""

import types
from collections.abc import Callable, Mapping
from datetime import date, tzinfo
from typing import Annotated, Any, Final, Literal, Union, get_args, get_origin

from pydantic import TypeAdapter, ValidationError

from demo_site.play.scenario import LINE, ScenarioRefused
from kiosk.lists import Lists
from kiosk.pages import Act, AnyAct, Frozen, Signature, fingerprint
from kiosk.pages._base import PageRef
from kiosk.pages.words import Meaning, Verdict
from kiosk.times import LocalTime, read_plant_time, write_time

ACTS: Final[Mapping[str, type[Act]]] = {
    model.model_fields["kind"].default: model for model in get_args(get_args(AnyAct)[0])
}
"""Every kind of page with its model."""
MEANINGS: Final = {
    "first-piece approval": Meaning.APPROVED,
    "correction": Meaning.CHECKED,
    "release": Meaning.RELEASED,
    "disposition": Meaning.DISPOSED,
    "seal": Meaning.SEALED,
    "pages lost": Meaning.DECLARED,
}
_TOLD_AS: Final = {"counter at": "at"}
"""Fields of pages that are named like a head of an event, with the name under which they are told."""
SHORT: Final = {"In": Verdict.IN, "Out": Verdict.OUT}

Pages = Callable[[str], list[str]]
"""Gives the pages that an event's name stands for."""


def make_act(do: str, told: Mapping[str, Any], *, zone: tzinfo, pages: Pages) -> Act:
    """Return the act of kind `do` with the fields told; times are plant time, page fields take event names.

    Raises:
        ScenarioRefused: there is no such kind, or a field is not understood.
    """
    model = ACTS.get(do)
    if model is None:
        raise ScenarioRefused(
            f"Event '{do}' not understood.",
            why="It is no event of a scenario and no kind of page.",
            next_step=f"Use a kind of page: {', '.join(sorted(ACTS))}.",
        )
    fields = _fields(model, told, zone, pages)
    try:
        return TypeAdapter(model).validate_python(fields | {"kind": do})
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(str(step) for step in first["loc"])
        raise ScenarioRefused(
            f"Event '{do}' not understood.", why=f"{where}: {first['msg']}.", next_step="See docs/reference/pages.md."
        ) from error


def signed(act: Act, person: str, lists: Lists, at: str) -> Act:
    """Return the act with the person's signature under it, where its kind takes one."""
    if "signature" not in type(act).model_fields:
        return act
    known = lists.person(person)
    levels = [row.level.value for row in lists.qualifications if row.person == person]
    kind = str(getattr(act, "kind", ""))
    signature = Signature(
        person=person,
        name=known.name if known else person,
        role=levels[0] if levels else "person",
        at=at,
        meaning=getattr(act, "meaning", None) or MEANINGS.get(kind, Meaning.RECORDED),
        sentence=f"I sign this {kind}.",
        of=fingerprint(act.model_dump_json(exclude={"signature"}).encode()),
    )
    return act.model_copy(update={"signature": signature})


def _fields(model: type[Frozen], told: Mapping[str, Any], zone: tzinfo, pages: Pages) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for key, value in told.items():
        if key == LINE:
            continue
        name = _TOLD_AS.get(key, key).replace(" ", "_").replace("-", "_")
        field = model.model_fields.get(name)
        if field is None:
            known = ", ".join(n.replace("_", " ") for n in model.model_fields if n != "kind")
            raise ScenarioRefused(f"Field '{key}' not understood.", why="No such field.", next_step=f"Use {known}.")
        shape: Any = Annotated[field.annotation, *field.metadata] if field.metadata else field.annotation
        made[name] = _value(shape, value, zone, pages)
    return made


def _value(shape: Any, value: Any, zone: tzinfo, pages: Pages) -> Any:
    if _is(shape, PageRef) and isinstance(value, str):
        return value if "/" in value else pages(value)[0]
    if _is(shape, LocalTime) and isinstance(value, str):
        return value if "T" in value else write_time(read_plant_time(value, zone))
    inner = _inner(shape)
    origin, parts = get_origin(inner), get_args(inner)
    if origin is tuple:
        return _tuple(parts[0], value, zone, pages)
    if isinstance(inner, type) and issubclass(inner, Frozen) and isinstance(value, Mapping):
        return _fields(inner, value, zone, pages)
    if inner is bool:
        return value == "yes"
    if inner is Verdict:
        return SHORT.get(value, value)
    if inner is date:
        return value
    if isinstance(value, Mapping):
        return {key: text for key, text in value.items() if key != LINE}
    return value


def _tuple(part: Any, value: Any, zone: tzinfo, pages: Pages) -> list[Any]:
    values = value if isinstance(value, list) else [value]
    if _is(part, PageRef):
        return [page for one in values for page in ([one] if "/" in one else pages(one))]
    return [_value(part, one, zone, pages) for one in values]


def _is(shape: Any, wanted: Any) -> bool:
    """True when `shape` is `wanted`, or that or nothing."""
    if shape == wanted:
        return True
    if get_origin(shape) in (Union, types.UnionType):
        return any(_is(part, wanted) for part in get_args(shape))
    patterns = {getattr(mark, "pattern", None) for mark in _marks(shape)}
    return bool({getattr(mark, "pattern", None) for mark in _marks(wanted)} & patterns - {None})


def _marks(shape: Any) -> list[Any]:
    if get_origin(shape) is not Annotated:
        return []
    found: list[Any] = []
    for mark in get_args(shape)[1:]:
        found += [mark, *getattr(mark, "metadata", ())]
    return found


def _inner(shape: Any) -> Any:
    if get_origin(shape) is Annotated:
        return _inner(get_args(shape)[0])
    if get_origin(shape) in (Union, types.UnionType):
        kinds = [part for part in get_args(shape) if part is not type(None)]
        return _inner(kinds[0])
    if get_origin(shape) is Literal:
        return str
    return shape
