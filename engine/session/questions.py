# SPDX-License-Identifier: MIT
"""Questions as data, and the words that may be typed at every one of them."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Literal

from backporch.engine.errors import BadInput, UnknownWord, nearest
from backporch.engine.units import parse, show

__all__ = [
    "COMMANDS",
    "MOMENT",
    "NONE_OF_THEM",
    "UNSURE",
    "Command",
    "Option",
    "Question",
    "choose",
    "choose_or_amount",
    "command_in",
    "plain_words",
]

COMMANDS: dict[str, str] = {
    "why": "what the last answer and the reasoning rest on",
    "undo": "take the last answer back; undo 3 takes three back",
    "correct": "list your answers by number; correct 3 asks the third again",
    "skip": "leave this question out",
    "can't": "this cannot be done here or with what you have",
    "stages": "show every stage with its odds",
    "diagram": "show the stages as the signal passes through them, with their odds",
    "pictures": "show how the symptoms found look; pictures rolling shows those for a word",
    "what is": "explain a term: what is hold",
    "note": "keep a note to yourself: note yoke plug is loose",
    "photo": "keep where a photo lies: photo pictures/below.jpg",
    "repaired": "a part was changed: repaired C41; then say what it did, and go on with what remains",
    "not cured": "the part changed last did not cure it after all",
    "watch": "lie in wait for a fault that comes and goes, and show its log; watch tap V5 keeps what you did",
    "!": "it is happening now; with what the meter left in place reads: ! 62",
    "quiet": "it has stopped; all is well at the moment",
    "now": "what has changed on the bench: now isolated, now direct, now full-mains, now alone, now mended",
    "trace": "what a tracer shows: trace sync-separator out good (in, out, supply; good, weak, absent)",
    "help": "show these words",
    "quit": "save and stop",
}
"""What may be typed at every prompt, with what it does."""

_SAME = {
    "cant": "can't",
    "cannot": "can't",
    "can not": "can't",
    "exit": "quit",
    "q": "quit",
    "back": "undo",
    "u": "undo",
    "pass": "skip",
    "w": "why",
    "why?": "why",
    "h": "help",
    "stage": "stages",
    "what's": "what is",
    "whats": "what is",
    "blocks": "diagram",
    "show pictures": "pictures",
    "gallery": "pictures",
    "it happens": "!",
    "happening": "!",
    "now happening": "!",
    "it is happening": "!",
    "it is happening now": "!",
    "now quiet": "quiet",
    "notcured": "not cured",
    "not-cured": "not cured",
    "edit": "correct",
}
_WITH_REST = (
    "what is",
    "what's",
    "whats",
    "note",
    "photo",
    "repaired",
    "correct",
    "undo",
    "watch",
    "trace",
    "now",
    "pictures",
    "!",
)
_LOOKS_LIKE = {
    "repaired": re.compile(r"^[A-Za-z]{1,2}\d+[A-Za-z]?(?:[\s,]+[A-Za-z]{1,2}\d+[A-Za-z]?)*\.?$"),
    "correct": re.compile(r"^\d"),
    "undo": re.compile(r"^\d+$"),
    "!": re.compile(r"^[^A-Za-z]|^ol|^none", re.I),
}
"""What must stand behind a word that may also begin an answer in everyday words."""
_UNSURE = {"?", "not sure", "unsure", "don't know", "dont know", "dunno", "no idea"}
UNSURE = "unsure"
NONE_OF_THEM = "none-of-them"
"""The answer that no part of a search by hand was at fault."""


@dataclass(frozen=True)
class Command:
    """A word that steers the conversation, with what stood behind it."""

    name: str
    rest: str = ""


@dataclass(frozen=True)
class Option:
    """One possible answer."""

    key: str
    label: str


@dataclass(frozen=True)
class Question:
    """What is asked next."""

    id: str
    kind: Literal["choice", "check", "symptoms", "outcome", "reading", "repair", "search", "returned", "watch"]
    title: str
    options: tuple[Option, ...] = ()
    unit: str = ""
    help: str = ""
    barred: bool = False
    """Whether the gate withholds it until what ``stop`` says is done: nothing answers it now."""
    stop: str = ""
    """What must be mended before anything goes on, where the answer given before stops."""
    offer: str | None = None
    why: tuple[str, ...] = field(default=())
    """Why it is asked now, in sentences."""


MOMENT = Question(
    "moment",
    "choice",
    "The fault comes and goes. Is it there right now?",
    (Option("happening", "Yes, it is there now"), Option("quiet", "No, all is well at the moment")),
    help="A test made while all is well clears no stage. Type ! the moment it happens, quiet when it is gone.",
)


def plain_words(text: str) -> str:
    """Return ``text`` without typographic apostrophes, doubled spaces and capitals.

    Example:
        >>> plain_words("  Can\\u2019t ")
        "can't"
    """
    for mark in "\u2019\u2018\u02bc\u00b4`":
        text = text.replace(mark, "'")
    return " ".join(text.split()).lower()


def command_in(text: str) -> Command | None:
    """Return the command that ``text`` is, or None where it is an answer.

    Example:
        >>> command_in("cant"), command_in("what is hold?"), command_in("-18 V")
        (Command(name="can't", rest=''), Command(name='what is', rest='hold'), None)
    """
    words = plain_words(text)
    if words in _SAME or words in COMMANDS:
        return Command(_SAME.get(words, words))
    for name in _WITH_REST:
        if words.startswith((name + " ", name + ":")) or (name == "!" and words.startswith("!")):
            rest = " ".join(text.split())[len(name) :].strip(" :")
            if name in _LOOKS_LIKE and not _LOOKS_LIKE[name].match(rest):
                continue
            return Command(_SAME.get(name, name), rest.rstrip("?").strip())
    return None


def choose(question: Question, text: str) -> str:
    """Return the key of the option that ``text`` picks, or "unsure".

    An option is picked by its number, its key, or any beginning of its label that fits no other.

    Raises:
        BadInput: nothing or more than one option fits.
    """
    words = plain_words(text)
    if words in _UNSURE:
        return UNSURE
    if not words:
        raise BadInput(f"Type a number from 1 to {len(question.options)}, or ? if you are not sure.")
    if words.isascii() and words.isdigit() and len(words) < 4:
        if 1 <= int(words) <= len(question.options):
            return question.options[int(words) - 1].key
        raise BadInput(f"There is no answer {words}; the numbers go from 1 to {len(question.options)}.")
    keys = [option.key for option in question.options]
    if words.replace(" ", "-") in keys:
        return words.replace(" ", "-")
    starts = [o.key for o in question.options if plain_words(o.label).startswith(words)]
    if words in ("y", "n"):
        starts = [
            o.key for o in question.options if plain_words(o.label).startswith("yes" if words == "y" else "no")
        ]
    if len(starts) == 1:
        return starts[0]
    if starts:
        raise BadInput(f"{text.strip()!r} fits several answers: {', '.join(starts)}. Type the number.")
    typed = text.strip()[:60]
    if nearest(typed, [*keys, *COMMANDS]):
        raise UnknownWord("answer", typed, [*keys, *COMMANDS])
    raise BadInput(f"There is no answer {typed!r}. Type a number from 1 to {len(keys)}, or help for the words.")


def choose_or_amount(question: Question, text: str) -> str:
    """Return the key of the option that ``text`` picks, or the amount in the question's unit that it is.

    Example:
        >>> choose_or_amount(Question("lamp-power", "choice", "How many watts?", unit="W"), "75W")
        '75 W'

    Raises:
        BadInput: it is neither.
    """
    words = plain_words(text)
    if not question.unit or words in _UNSURE:
        return choose(question, text)
    if words.isascii() and words.isdigit() and 1 <= int(words) <= len(question.options):
        return question.options[int(words) - 1].key
    amount = parse(text, question.unit)
    if amount <= 0:
        raise BadInput(f"{text.strip()!r} must be above zero.")
    return show(amount, question.unit)
