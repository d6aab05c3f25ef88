"""Completion, asked of the shells themselves: bash, zsh and fish run the scripts that are printed."""

from __future__ import annotations

import shutil
import subprocess

import pytest

from winder.commands.completion import SHELLS
from winder.commands.main import build_parser, main
from winder.commands.verb_tree import every_verb

# How each shell is asked what may follow the words typed so far; the last word is the one begun.
ASKING = {
    "bash": (
        ["bash", "--norc", "-c"],
        "{script}\nCOMP_WORDS=({words}); COMP_CWORD=$((${{#COMP_WORDS[@]}}-1)); _winder;"
        ' printf "%s\\n" "${{COMPREPLY[@]}}"',
    ),
    "zsh": (
        ["zsh", "-f", "-c"],
        'compdef() {{ :; }}; _files() {{ :; }}\ncompadd() {{ shift; print -l -- "$@"; }}\n{script}\n'
        "words=({words}); CURRENT=${{#words}}; _winder",
    ),
    "fish": (
        ["fish", "--no-config", "-c"],
        '{script}\ncomplete -C "{line}" | string split -f1 \\t',
    ),
}


def script_of(capsys, shell: str) -> str:
    with pytest.raises(SystemExit) as ended:
        main(["--completion", shell])
    assert ended.value.code == 0
    return str(capsys.readouterr().out)


def offered(capsys, shell: str, *words: str) -> set[str]:
    """What the shell offers for the last word, which may be empty."""
    command, asking = ASKING[shell]
    if shutil.which(command[0]) is None:
        pytest.skip(f"{shell} is not installed: apt-get install {shell}")
    quoted = " ".join(f"'{word}'" for word in ("winder", *words))
    text = asking.format(
        script=script_of(capsys, shell), words=quoted, line=" ".join(("winder", *words))
    )
    done = subprocess.run(
        [*command, text], capture_output=True, text=True, timeout=30, check=True, input=""
    )
    assert done.stderr == ""
    found = {line for line in done.stdout.splitlines() if line}
    return {word for word in found if word.startswith(words[-1])}


@pytest.mark.parametrize("shell", SHELLS)
def test_every_verb_is_offered_where_it_may_stand(capsys, shell):
    for verb in every_verb(build_parser()):
        if verb.verbs:
            assert offered(capsys, shell, *verb.path, "") >= set(verb.verbs)


@pytest.mark.parametrize("shell", SHELLS)
def test_options_are_those_of_the_verb_and_no_others(capsys, shell):
    found = offered(capsys, shell, "recipe", "check", "some.toml", "--")
    assert "--json" in found and "--port" not in found
    assert "--port" in offered(capsys, shell, "wind", "bass.toml", "--")


@pytest.mark.parametrize("shell", SHELLS)
def test_the_words_of_an_option_are_offered_after_it(capsys, shell):
    assert offered(capsys, shell, "wind", "--top", "") == {"operator", "chuck"}


@pytest.mark.parametrize("shell", SHELLS)
def test_what_was_begun_is_finished(capsys, shell):
    assert offered(capsys, shell, "reh") == {"rehearse"}


@pytest.mark.parametrize("shell", ["bash", "zsh"])
def test_where_a_file_stands_no_verb_is_offered(capsys, shell):
    assert offered(capsys, shell, "sheet", "") == set()


def test_an_unknown_shell_is_refused_with_those_that_are_known(capsys):
    with pytest.raises(SystemExit) as ended:
        main(["--completion", "pidgin"])
    assert ended.value.code == 2
    assert "bash" in capsys.readouterr().err
