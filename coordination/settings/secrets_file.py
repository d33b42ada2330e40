"""Keeps the secret key of an embedded run in a file that only its owner reads."""

import os
import secrets
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured


def read_or_make_secret(path: Path) -> str:
    """Return the secret in `path`, writing a fresh one (384 random bits) when there is none yet.

    Raises ImproperlyConfigured when the file is there but empty or the folder cannot be written.
    """
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        # Written aside and linked into place: whoever comes second finds a whole secret, never half of one.
        draft = path.with_name(f"{path.name}.{os.getpid()}")
        if not path.exists():
            descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
            with os.fdopen(descriptor, "w") as file:
                file.write(secrets.token_urlsafe(48))
            try:
                os.link(draft, path)
            except FileExistsError:
                pass
            finally:
                draft.unlink()
        secret = path.read_text().strip()
    except OSError as problem:
        raise ImproperlyConfigured(
            f"The secret key cannot be kept in {path}: {problem.strerror}. "
            "Make the folder writable, or name another one in BEFORE_THE_BOARD_DATA."
        ) from problem
    if len(secret) < 50:
        raise ImproperlyConfigured(f"{path} holds no usable secret key. Delete it and start again.")
    return secret
