"""The messages a browser may send: a short list of types, and nothing else.

What is not on it, or not of its shape, is refused with the reason; the texts in it are then read by
the rules of the model file.
"""

from __future__ import annotations

import re
from typing import Annotated, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, TypeAdapter, ValidationError

LARGEST = 64 * 1024
"""Bytes of a message: nothing that is sent in good faith is more."""

LONGEST = 200
"""Letters of a text that is typed into a field; no figure and no name needs more."""

MODEL_NAME = re.compile(r"[\w][\w .()+-]{0,80}\.toml")
"""Names of model files that the page writes: in the folder served, and nowhere else."""

_PRINTABLE = r"^[^\x00-\x1f\x7f]*$"
Text = Annotated[str, StringConstraints(max_length=LONGEST, pattern=_PRINTABLE)]
RunNumber = Annotated[int, Field(ge=0, lt=10_000)]
Sequence = Annotated[int, Field(ge=0, lt=2**53)]
Units = Literal["US", "SI"]
Client = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{32}$")]
Number = Annotated[str, StringConstraints(pattern=r"^[0-9]{1,9}$")]
# a route that was edited comes back whole
Kept = Annotated[str, StringConstraints(max_length=40_000, pattern=_PRINTABLE)]
Edited = Annotated[dict[Text, Kept], Field(max_length=2000)]
# legs stand on lines of their own
Lines = Annotated[
    str, StringConstraints(max_length=20_000, pattern=r"^[^\x00-\x09\x0b-\x1f\x7f]*$")
]
AnswerTexts = Annotated[dict[Text, Lines], Field(max_length=20)]
PointNumber = Annotated[int, Field(ge=0, lt=10_000)]


class _Message(BaseModel):
    """One message; nothing in it is turned into what it should be."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)


class Hello(_Message):
    """The first message: who speaks, which run to show, and its own what-if of every run."""

    type: Literal["hello"]
    client: Client
    run: RunNumber = 0
    whatif: Annotated[dict[Text, Edited], Field(max_length=1000)] = {}
    units: Units = "US"


class Open(_Message):
    """Another run to look at."""

    type: Literal["open"]
    run: RunNumber


class Edit(_Message):
    """Another value for one field, as typed."""

    type: Literal["edit"]
    seq: Sequence
    run: RunNumber
    key: Text
    text: Text
    units: Units


class EditRoute(_Message):
    """A point of the route moved, inserted after another, or deleted; a radius or a length typed.

    ``at`` are the coordinates as typed, empty where one stays; with ``rest`` all points after it
    move too. Moves of one ``gesture`` are one step to undo.
    """

    type: Literal["route"]
    seq: Sequence
    run: RunNumber
    action: Literal["move", "insert", "delete", "bend", "length"]
    point: PointNumber
    units: Units
    at: tuple[Text, Text, Text] | None = None
    text: Text = ""
    rest: bool = False
    gesture: Number | None = None


class EditLegs(_Message):
    """The route of a run by legs, one text each; what is typed in one ``gesture`` is one step."""

    type: Literal["legs"]
    seq: Sequence
    run: RunNumber
    lines: Annotated[list[Text], Field(min_length=1, max_length=400)]
    units: Units
    gesture: Number | None = None


class Answers(_Message):
    """The answers typed so far to the questions of a new job, by their keys."""

    type: Literal["answers"]
    seq: Sequence
    answers: AnswerTexts


class Find(_Message):
    """Words of a stock name, as they are typed into the field of a question."""

    type: Literal["find"]
    seq: Sequence
    key: Text
    words: Text


class Begin(_Message):
    """A model file written under a name: of the answers, or of a template."""

    type: Literal["begin"]
    seq: Sequence
    name: Text
    answers: AnswerTexts = {}
    template: Text = ""
    units: Units = "US"


class Step(_Message):
    """Back to the file, one edit back, one edit on, or the what-if offered to the others."""

    type: Literal["reset", "undo", "redo", "share"]
    seq: Sequence
    run: RunNumber


class KeepVariant(_Message):
    """The what-if kept under a name, one of those kept dropped, or taken up again."""

    type: Literal["variant"]
    seq: Sequence
    run: RunNumber
    action: Literal["keep", "drop", "use"]
    id: Number | None = None
    name: Annotated[str, StringConstraints(max_length=60, pattern=_PRINTABLE)] | None = None


class Take(_Message):
    """What another browser has shared, taken as one's own."""

    type: Literal["take"]
    seq: Sequence
    run: RunNumber
    id: Number


class Save(_Message):
    """The what-if written to a new model file, or with ``into`` to the one that is served."""

    type: Literal["save"]
    seq: Sequence
    run: RunNumber
    name: Text
    into: bool = False


class Explain(_Message):
    """The formula and the numbers behind a rule or a figure of the run."""

    type: Literal["explain"]
    seq: Sequence
    run: RunNumber
    rule: Text
    units: Units


class Compare(_Message):
    """The run of the file against the what-if, a variant by its id, or another file by its name."""

    type: Literal["compare"]
    seq: Sequence
    run: RunNumber
    units: Units
    variant: Number | None = None
    file: Text = ""


class AskSensitivity(_Message):
    """Spread and limits of the run as this browser shows it, in words, tables and pictures."""

    type: Literal["sensitivity"]
    seq: Sequence
    run: RunNumber


class Ping(_Message):
    """Whether the server is there."""

    type: Literal["ping"]
    at: int | float


Message = (
    Hello
    | Open
    | Edit
    | EditRoute
    | EditLegs
    | Step
    | KeepVariant
    | Take
    | Save
    | Explain
    | Compare
    | AskSensitivity
    | Ping
    | Answers
    | Find
    | Begin
)

OF_A_CREW = ("hello", "open", "ping", "explain")
"""The types of message that change nothing: all that a link for the crew allows."""

_READER: TypeAdapter[Message] = TypeAdapter(Annotated[Message, Field(discriminator="type")])
TYPES = frozenset(
    name for kind in get_args(Message) for name in get_args(kind.model_fields["type"].annotation)
)


class Refused(Exception):
    """A message that is not one of the list; ``seq`` and ``key`` where it tells them."""

    def __init__(self, reason: str, seq: int = 0, key: str = "") -> None:
        super().__init__(reason)
        self.reason, self.seq, self.key = reason, seq, key


def read_message(text: str | bytes) -> Message:
    """The message; Refused with the reason where it is none."""
    size = len(text.encode(errors="surrogatepass")) if isinstance(text, str) else len(text)
    if size > LARGEST:
        raise Refused(f"a message has at most {LARGEST} bytes")
    try:
        return _READER.validate_json(text)
    except ValidationError as error:
        first = error.errors(include_url=False, include_context=False, include_input=False)[0]
        place = ".".join(str(part) for part in first["loc"][1:])
        raise Refused(f"{f'{place}: ' if place else ''}{first['msg']}"[:LONGEST]) from None
