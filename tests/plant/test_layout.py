"""House rules that can be read off the files themselves."""

import re
from pathlib import Path

import pytest
from django.conf import settings

FOLDER = Path(settings.BASE_DIR)
TOP = {
    ".ci",
    ".gitignore",
    "DEVELOPERS.md",
    "README.md",
    "couplings",
    "docker-compose.yml",
    "fixtures",
    "inspections",
    "manage.py",
    "plant",
    "pyproject.toml",
    "tests",
}
IGNORED = {line.strip().strip("/*") for line in (FOLDER / ".gitignore").read_text().split()} | {".git"}
LONGEST = 400
INLINE = re.compile(
    r"""<style|\sstyle\s*=|<script(?![^>]*\ssrc=)|\son[a-z]+\s*=\s*["']|\shx-on|javascript:""", re.IGNORECASE
)


def ignored(path):
    return any(part in IGNORED or part.endswith(".egg-info") for part in path.relative_to(FOLDER).parts)


def files(*suffixes):
    return sorted(
        path
        for name in TOP
        for path in ([FOLDER / name] if (FOLDER / name).is_file() else (FOLDER / name).rglob("*"))
        if path.is_file() and not ignored(path) and (not suffixes or path.suffix in suffixes)
    )


def written(paths):
    return [str(path.relative_to(FOLDER)) for path in paths]


def texts():
    for path in files():
        try:
            yield path, path.read_text()
        except UnicodeDecodeError:
            continue


def test_top_level_is_as_the_house_has_it():
    assert {path.name for path in FOLDER.iterdir() if not ignored(path)} == TOP


def test_no_python_file_is_too_long():
    long = [path for path in files(".py") if len(path.read_text().splitlines()) > LONGEST]
    assert written(path for path in long if "migrations" not in path.parts) == []


def test_no_file_is_named_for_nothing_in_particular():
    vague = {"utils", "util", "helpers", "helper", "common", "misc", "manager"}
    assert written(path for path in files(".py") if vague & {path.stem, *path.parts}) == []


def test_pages_carry_no_inline_style_or_script():
    pages = files(".html", ".svg")
    assert pages
    assert [name for name, page in zip(written(pages), pages, strict=True) if INLINE.search(page.read_text())] == []


@pytest.mark.parametrize("page", ["<p style='x'>", "<script>x</script>", "<b onclick='x'>", "<i hx-on:click='x'>"])
def test_search_for_inline_code_finds_it(page):
    assert INLINE.search(page)
    assert not INLINE.search("<script type='module' src='/static/x.js'></script><p class='on'>")


def test_no_file_names_a_package_registry_or_a_place_on_somebodys_machine():
    # Put together here, so that this file does not find itself.
    places = ["py" + "pi.org", "python" + "hosted", "npm" + "js.", "--index" + "-url", "--extra-index" + "-url"]
    places += ["/wo" + "rk/", "/ro" + "ot/", "/ho" + "me/", "/Us" + "ers/"]
    found = [f"{path.relative_to(FOLDER)}: {place}" for path, text in texts() for place in places if place in text]
    assert found == []


def test_readme_and_continuous_integration_run_the_same_test_command():
    commands = re.findall(r"^python3 -m venv .*$", (FOLDER / "README.md").read_text(), re.MULTILINE)
    assert len(commands) == 2
    start, tests = commands
    assert start.endswith(".venv/bin/python manage.py start --demo")
    assert tests.endswith(".venv/bin/pytest")
    assert tests in (FOLDER / ".ci" / "run").read_text()


def test_readme_lists_every_setting_from_the_environment():
    from plant.environment import KNOWN

    text = (FOLDER / "README.md").read_text()
    listed = set(re.findall(r"^\| `([A-Z_]+)` \|", text, re.MULTILINE))
    assert listed == KNOWN | {"DATABASE_URL", "CELERY_BROKER_URL", "WEB_CONCURRENCY"}
