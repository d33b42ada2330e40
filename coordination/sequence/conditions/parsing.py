"""Reading a condition's text: a tokenizer and a recursive-descent parser; nothing is run as a program."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NoReturn, cast

from coordination.sequence.conditions.grammar import (
    And,
    Compare,
    Comparison,
    ConditionError,
    Constant,
    Name,
    Node,
    Not,
    Or,
)

LONGEST = 500
DEEPEST = 30
SPLIT_IT = "name a new feature for part of it"

_TOKEN = re.compile(
    r"""\s*(?:
        (?P<number>-?\d+(?:\.\d+)?(?![\w.]))
      | (?P<text>"[^"\\\n]*"|'[^'\\\n]*')
      | (?P<word>[A-Za-z_][A-Za-z0-9_]*)
      | (?P<sign>==|!=|<=|>=|<|>|\(|\)|=)
    )""",
    re.VERBOSE,
)
_KEYWORDS = ("and", "or", "not", "true", "false")


def parse(text: str) -> Node:
    """The meaning of `text`; raises ConditionError naming text, position and remedy."""
    if len(text) > LONGEST:
        raise ConditionError(text[:40] + "...", LONGEST, f"longer than {LONGEST} characters", SPLIT_IT)
    return _Parser(text).read()


@dataclass(frozen=True)
class _Token:
    kind: str
    text: str
    position: int


class _Parser:
    """Recursive descent, one method per rule of the grammar."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.tokens = self._split(text)
        self.at = 0
        self.depth = 0

    def read(self) -> Node:
        node = self._or()
        token = self.tokens[self.at]
        if token.kind != "end":
            self._refuse(token, f"'{token.text}' does not belong here", "join conditions with 'and' or 'or'")
        return node

    def _split(self, text: str) -> list[_Token]:
        tokens: list[_Token] = []
        at = 0
        while text[at:].strip():
            match = _TOKEN.match(text, at)
            if match is None or match.lastgroup is None:
                start = at + len(text[at:]) - len(text[at:].lstrip())
                if text[start] in "\"'":
                    remedy = "close the quotation, without backslashes"
                else:
                    remedy = "use names, numbers, quoted text, comparisons, and, or, not and parentheses"
                raise ConditionError(text, start + 1, f"'{text[start]}' cannot be read", remedy)
            tokens.append(_Token(match.lastgroup, match[match.lastgroup], match.start(match.lastgroup) + 1))
            at = match.end()
        tokens.append(_Token("end", "", len(text) + 1))
        return tokens

    def _refuse(self, token: _Token, message: str, remedy: str) -> NoReturn:
        raise ConditionError(self.text, token.position, message, remedy)

    def _take_word(self, word: str) -> bool:
        token = self.tokens[self.at]
        if token.kind == "word" and token.text == word:
            self.at += 1
            return True
        return False

    def _deeper(self) -> None:
        self.depth += 1
        if self.depth > DEEPEST:
            self._refuse(self.tokens[self.at], f"nested deeper than {DEEPEST}", SPLIT_IT)

    def _or(self) -> Node:
        parts = [self._and()]
        while self._take_word("or"):
            parts.append(self._and())
        return parts[0] if len(parts) == 1 else Or(tuple(parts))

    def _and(self) -> Node:
        parts = [self._not()]
        while self._take_word("and"):
            parts.append(self._not())
        return parts[0] if len(parts) == 1 else And(tuple(parts))

    def _not(self) -> Node:
        if not self._take_word("not"):
            return self._comparison()
        self._deeper()
        node = Not(self._not())
        self.depth -= 1
        return node

    def _comparison(self) -> Node:
        token = self.tokens[self.at]
        if token.text == "(" and token.kind == "sign":
            self.at += 1
            self._deeper()
            node = self._or()
            self.depth -= 1
            closing = self.tokens[self.at]
            if closing.text != ")":
                self._refuse(
                    closing, "a parenthesis is not closed", f"close the one opened at {token.position}"
                )
            self.at += 1
            return node
        left = self._operand()
        sign = self.tokens[self.at]
        if sign.text == "=":
            self._refuse(sign, "'=' is no comparison", "write == for 'is the same as'")
        if sign.kind != "sign" or sign.text in "()":
            return left
        self.at += 1
        right = self._operand()
        following = self.tokens[self.at]
        if following.kind == "sign" and following.text not in "()":
            self._refuse(following, "comparisons cannot be chained", "join two comparisons with 'and'")
        return Compare(left, cast(Comparison, sign.text), right)

    def _operand(self) -> Name | Constant:
        token = self.tokens[self.at]
        self.at += 1
        if token.kind == "number":
            return Constant(float(token.text))
        if token.kind == "text":
            return Constant(token.text[1:-1])
        if token.kind == "word" and token.text in ("true", "false"):
            return Constant(token.text == "true")
        if token.kind == "word" and token.text not in _KEYWORDS:
            return Name(token.text)
        self.at -= 1
        what = f"'{token.text}'" if token.kind != "end" else "the end"
        self._refuse(token, f"{what} stands where a value should", "write a name, a number or quoted text")
