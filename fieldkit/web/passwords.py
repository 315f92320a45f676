"""Passwords: hashed with Argon2id as its library recommends, and refused when easily guessed."""

from __future__ import annotations

import secrets
from functools import cache
from typing import TYPE_CHECKING

from fieldkit.engine.problems import Problem
from fieldkit.engine.words import say

if TYPE_CHECKING:
    from argon2 import PasswordHasher

SHORTEST, LONGEST = 12, 128


@cache
def hasher() -> PasswordHasher:
    """Made when first needed: a phone logs nobody in and carries no such library."""
    from argon2 import PasswordHasher  # noqa: PLC0415

    return PasswordHasher()


@cache
def nobodys_hash() -> str:
    """Checked when there is no such person, so that the answer takes as long."""
    return hasher().hash(secrets.token_urlsafe(32))


def hash_password(password: str, *about: str) -> str:
    """The hash to keep of a new password.

    Raises
    ------
    Problem
        It is too short, too long, or easily guessed.
    """
    if not SHORTEST <= len(password) <= LONGEST:
        raise Problem(
            "password",
            None,
            say(
                "A password here has {least} to {most} letters.",
                least=SHORTEST,
                most=LONGEST,
            ),
            say("Four plain words in a row are good, and easy to keep."),
        )
    from zxcvbn import zxcvbn  # noqa: PLC0415

    if zxcvbn(password[:72], user_inputs=list(about))["score"] < 3:
        raise Problem(
            "password",
            None,
            say("This password is easily guessed."),
            say("Take four plain words that do not belong together."),
        )
    return rehash(password)


def rehash(password: str) -> str:
    """The hash of a password that was taken before; today's rules do not make it wrong."""
    return hasher().hash(password)


def is_right(kept: str | None, password: str) -> bool:
    """Whether the password is the one; as slow when there is nobody to compare with.

    A guest has none: an empty hash is no hash, and nothing is right for it.
    """
    from argon2.exceptions import InvalidHashError, VerificationError  # noqa: PLC0415

    try:
        hasher().verify(kept or nobodys_hash(), password[:LONGEST])
    except (VerificationError, InvalidHashError):
        return False
    return bool(kept) and len(password) <= LONGEST


def needs_new_hash(kept: str) -> bool:
    """Whether the library now recommends more work than this hash was made with."""
    return hasher().check_needs_rehash(kept)
