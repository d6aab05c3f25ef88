"""``winder --completion SHELL``: a script that lets the shell finish verbs, options and their words.

The scripts are written from the parsers, so that they know every verb of this version. Where a file may
stand the shell's own completion of file names is left to work.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from winder.commands.verb_tree import Verb

SHELLS = ("bash", "zsh", "fish")


class PrintCompletion(argparse.Action):
    """Prints the script of a shell and ends, as ``--help`` does."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: str | Sequence[Any] | None,
        option_string: str | None = None,
    ) -> None:
        from winder.commands.verb_tree import every_verb

        print(completion_script(str(values), tuple(every_verb(parser))), end="")
        parser.exit(0)


def completion_script(shell: str, verbs: Sequence[Verb]) -> str:
    """The whole script of one of ``SHELLS``."""
    if shell == "fish":
        return _fish(verbs)
    script, chosen, free = _SCRIPTS[shell]
    values = [
        (f'"{_place(verb)}|{name}"', " ".join(option.choices))
        for verb in verbs
        for option in verb.options
        for name in option.names
        if option.value
    ]
    any_file = "|".join(pattern for pattern, words in values if not words)
    lines = [f"{pattern}) {chosen % words}; return ;;" for pattern, words in values if words]
    places = [
        f'"{_place(verb)}") verbs="{" ".join(verb.verbs)}" options="{_names(verb)}" ;;'
        for verb in verbs
    ]
    return script.format(
        paths="|".join(f'"{_place(verb)}"' for verb in verbs if verb.path),
        values=_block([*lines, f"{any_file}) {free}return ;;"]),
        places=_block(places),
    )


_CASES = """\
    local place="" verbs="" options="" i
    for ((i = {first}; i < {here}; i++)); do
        case "$place ${{{{{each}[i]}}}}" in
            {{paths}}) place="$place ${{{{{each}[i]}}}}" ;;
        esac
    done
    case "$place|$before" in
{{values}}
    esac
    case "$place" in
{{places}}
    esac
    if [[ $word == -* ]]; then verbs=$options; fi
"""
_BASH = (
    """\
# Completion of winder for bash: source <(winder --completion bash)
_winder() {{
    local word="${{COMP_WORDS[COMP_CWORD]}}" before="${{COMP_WORDS[COMP_CWORD-1]}}"
    COMPREPLY=()
"""
    + _CASES.format(first=1, here="COMP_CWORD", each="COMP_WORDS")
    + """\
    COMPREPLY=($(compgen -W "$verbs" -- "$word"))
}}
complete -o default -F _winder winder
"""
)
_ZSH = (
    """\
#compdef winder
# Completion of winder for zsh: source <(winder --completion zsh)
_winder() {{
    local word="${{words[CURRENT]}}" before="${{words[CURRENT-1]}}"
"""
    + _CASES.format(first=2, here="CURRENT", each="words")
    + """\
    if [[ -n $verbs ]]; then compadd -- ${{=verbs}}; else _files; fi
}}
compdef _winder winder
"""
)
# The script, what offers the words of an option's value, and what comes before leaving it to file names.
_SCRIPTS = {
    "bash": (_BASH, 'COMPREPLY=($(compgen -W "%s" -- "$word"))', ""),
    "zsh": (_ZSH, "compadd -- %s", "_files; "),
}


def _block(lines: Iterable[str]) -> str:
    return "\n".join(f"        {line}" for line in lines)


def _place(verb: Verb) -> str:
    """The verb's path as the scripts keep it, a blank before each word."""
    return "".join(f" {word}" for word in verb.path)


def _names(verb: Verb) -> str:
    return " ".join(name for option in verb.options for name in option.names)


def _fish(verbs: Sequence[Verb]) -> str:
    """Fish shows what each word means beside it."""
    known = " ".join(f"'{_place(verb)}'" for verb in verbs if verb.path)
    lines = [
        "# Completion of winder for fish: winder --completion fish | source",
        "function __winder_at",
        "    set -l place ''",
        "    for word in (commandline -opc)[2..-1]",
        f'        contains -- "$place $word" {known}; and set place "$place $word"',
        "    end",
        '    test "$place" = "$argv[1]"',
        "end",
    ]
    told = {verb.path: verb.summary for verb in verbs}
    for verb in verbs:
        at = f"complete -c winder -n {_quoted(f'__winder_at {_quoted(_place(verb))}')}"
        for name in verb.verbs:
            lines.append(f"{at} -f -a {name} -d {_quoted(told[(*verb.path, name)])}")
        for option in verb.options:
            words = [
                f"-l {name[2:]}" if name.startswith("--") else f"-s {name[1:]}"
                for name in option.names
            ]
            value = " -r" if option.value else ""
            if option.choices:
                value = f" -x -a {_quoted(' '.join(option.choices))}"
            lines.append(f"{at} {' '.join(words)}{value} -d {_quoted(option.means)}")
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    """In fish's single quotes."""
    plain = text.replace("\\", "\\\\").replace("'", "\\'")
    return f"'{plain}'"
