"""How the modules of the page become one script."""

from __future__ import annotations

import gzip
import re
import shutil
import subprocess

import pytest

from viewer.web import bundle
from viewer.web.bundle import Asset, join

MAIN = 'import { a } from "./a.js";\nconsole.log(a());\n'


def test_each_module_stands_after_those_it_needs_and_once() -> None:
    made = join(
        {
            "main.js": 'import { b } from "./b.js";\nimport { a } from "./a.js";\nb(a);\n',
            "b.js": 'import { a } from "./a.js";\nexport const b = (x) => a + x;\n',
            "a.js": "export const a = 1;\n",
            "idle.js": "export const never = 1;\n",
        },
        "main.js",
    )
    assert made.index("// a.js") < made.index("// b.js") < made.index("// main.js")
    assert made.count("const a = 1;") == 1 and "never" not in made
    assert "import" not in made and "export" not in made
    assert made.startswith('(() => {\n"use strict";')


@pytest.mark.skipif(shutil.which("node") is None, reason="NO NODE: joined script is not run")
def test_what_is_joined_runs() -> None:
    made = join({"main.js": MAIN, "a.js": "export function a() {\n  return 6 * 7;\n}\n"}, "main.js")
    ran = subprocess.run(["node", "-e", made], capture_output=True, text=True, check=True)
    assert ran.stdout == "42\n"


A = "export const a = 1;\n"


@pytest.mark.parametrize(
    ("main", "modules", "said"),
    [
        (
            'import { a } from "./a.js";\nimport { c } from "./c.js";\n',
            {"a.js": A + "const b = 2;\n", "c.js": "export const c = 1;\nconst b = 3;\n"},
            "b is declared in a.js and in c.js",
        ),
        (MAIN, {"a.js": A + "const { x, y: z } = {};\nlet z;\n"}, "z is declared"),
        (
            MAIN,
            {
                "a.js": 'import { b } from "./b.js";\n' + A,
                "b.js": 'import { a } from "./a.js";\nexport const b = 1;\n',
            },
            "circle: main.js -> a.js -> b.js -> a.js",
        ),
        (MAIN, {"a.js": "export const other = 1;\n"}, "imports a, not in a.js"),
        (MAIN, {}, "needs a.js"),
        (MAIN, {"a.js": A + "export default 1;\n"}, "cannot join"),
        (MAIN, {"a.js": A + 'import "./b.js";\n'}, "cannot join"),
    ],
)
def test_what_cannot_be_joined_is_told(main: str, modules: dict[str, str], said: str) -> None:
    with pytest.raises(ValueError, match=re.escape(said)):
        join({"main.js": main, **modules}, "main.js")


def test_the_page_of_the_program_joins() -> None:
    app = bundle.scripts()[-1]
    assert app.name == "app.js" and "// main.js" in app.text
    assert "</script" not in "".join(s.text for s in bundle.scripts()).lower()
    assert "</style" not in "".join(s.text for s in bundle.styles()).lower()


def test_a_name_on_the_server_follows_the_bytes() -> None:
    one, other = Asset("app.js", "1;"), Asset("app.js", "2;")
    assert one.served_name == Asset("app.js", "1;").served_name != other.served_name
    assert one.served_name.startswith("app-") and one.served_name.endswith(".js")
    assert gzip.decompress(one.packed) == b"1;"


def test_nothing_inside_a_piece_is_taken_for_a_place_of_another() -> None:
    made = bundle.page("<!--DATA-->", "<!--SCRIPTS-->", "end")
    assert made.count("<!--DATA-->") == 1 and made.count("<!--SCRIPTS-->") == 1
