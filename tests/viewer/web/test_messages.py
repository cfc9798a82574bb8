"""What a browser may say, and what is refused."""

from __future__ import annotations

import json

import pytest

from viewer.web.messages import LARGEST, LONGEST, TYPES, Refused, read_message

ID = "0123456789abcdef" * 2
GOOD: dict[str, dict[str, object]] = {
    "hello": {"client": ID, "run": 1, "whatif": {"F1": {"reel": "1.2"}}, "units": "SI"},
    "open": {"run": 2},
    "edit": {"seq": 1, "run": 0, "key": "reel", "text": "1200 lbf", "units": "US"},
    "route": {"seq": 9, "run": 0, "action": "move", "point": 1, "units": "US"},
    "legs": {"seq": 9, "run": 0, "lines": ["120 ft", "right 90"], "units": "US"},
    "answers": {"seq": 9, "answers": {"route": "start at 0, 0, 0\n120 ft"}},
    "find": {"seq": 9, "key": "cable", "words": "500 kcmil"},
    "begin": {"seq": 9, "name": "job.toml"},
    "explain": {"seq": 9, "run": 0, "rule": "sidewall pressure", "units": "US"},
    "compare": {"seq": 9, "run": 0, "units": "US"},
    "sensitivity": {"seq": 9, "run": 0},
    "reset": {"seq": 2, "run": 0},
    "undo": {"seq": 3, "run": 0},
    "redo": {"seq": 4, "run": 0},
    "share": {"seq": 5, "run": 0},
    "variant": {"seq": 6, "run": 0, "action": "keep", "name": "rough"},
    "take": {"seq": 7, "run": 0, "id": "12"},
    "save": {"seq": 8, "run": 0, "name": "other.toml"},
    "ping": {"at": 1.5},
}


def said(kind: str, **values: object) -> str:
    return json.dumps({"type": kind, **GOOD.get(kind, {}), **values})


def test_what_the_page_says_is_read() -> None:
    assert GOOD.keys() == TYPES
    for kind, values in GOOD.items():
        message = read_message(said(kind))
        assert message.type == kind
        assert {k: getattr(message, k) for k in values} == values
    assert read_message(said("edit", text="1" * LONGEST)).type == "edit"
    assert read_message(json.dumps({"type": "hello", "client": ID})).type == "hello"


@pytest.mark.parametrize("kind", GOOD)
def test_a_field_more_or_less_is_refused(kind: str) -> None:
    with pytest.raises(Refused, match="extra"):
        read_message(said(kind, extra=1))
    for name in GOOD[kind]:
        if (kind, name) in {("hello", "run"), ("hello", "whatif"), ("hello", "units")}:
            continue  # a first visit brings nothing along
        if kind == "variant" and name == "name":
            continue
        left = {k: v for k, v in GOOD[kind].items() if k != name}
        with pytest.raises(Refused, match=name):
            read_message(json.dumps({"type": kind, **left}))


@pytest.mark.parametrize(
    "text",
    [
        "",
        "null",
        "[]",
        "1",
        "{",
        '{"type": "exit"}',
        '{"type": ["edit"]}',
        '{"type": null}',
        "{}",
        "[" * 20_000,
        '{"a":' * 20_000,
        said("ping", at="1"),
        '{"type": "ping", "at": NaN}',
        '{"type": "ping", "at": Infinity}',
        said("open", run=True),
        said("open", run=-1),
        said("open", run=10**6),
        said("open", run=1.0),
        said("open", run="0"),
        said("route", action="explode"),
        said("route", point=-1),
        said("route", point="1"),
        said("route", at=["1", "2"]),
        said("route", at=[1, 2, 3]),
        said("route", at=["1", "2", "3" * (LONGEST + 1)]),
        said("route", gesture="g"),
        said("route", rest="yes"),
        said("save", into="yes"),
        said("compare", variant="../x"),
        said("compare", file="x" * (LONGEST + 1)),
        said("explain", rule="a\nb"),
        said("legs", lines=[]),
        said("legs", lines=["120 ft"] * 401),
        said("legs", lines=["120 ft\n60 ft"]),
        said("answers", answers={"route": "x" * 20_001}),
        said("answers", answers={"route": "a\tb"}),
        said("answers", answers={"route": 1}),
        said("begin", answers={str(i): "" for i in range(21)}),
        said("begin", units="imperial"),
        said("hello", whatif={"F1": {"route": "x" * 40_001}}),
        said("edit", seq=-1),
        said("edit", seq=2**60),
        said("edit", text="1" * (LONGEST + 1)),
        said("edit", text="a\nb"),
        said("edit", text="\u0000"),
        said("edit", text=5),
        said("edit", units="cubits"),
        said("edit", key=["reel"]),
        said("hello", client="short"),
        said("hello", client=ID.upper()),
        said("hello", client=ID + "\n"),
        said("hello", whatif=[]),
        said("hello", whatif={"F1": {"reel": 1}}),
        said("variant", action="rename"),
        said("variant", id="x"),
        said("take", id="1" * 10),
        '"' + "x" * LARGEST + '"',
        b"\xff\xfe",
    ],
)
def test_anything_else_is_refused(text: str | bytes) -> None:
    with pytest.raises(Refused) as refused:
        read_message(text)
    assert refused.value.reason and len(refused.value.reason) <= LONGEST
    assert "http" not in refused.value.reason
