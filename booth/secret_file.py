"""Secrets stand in files of their own that only their owner can read, or in environment variables; never in the configuration."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from booth.shop.problems import ConfigError, ConfigProblem


def secret(file: str | None, variable: str, key: str) -> str | None:
    """The secret in a file, or, where none is named, in the variable; None where there is none either.

    `key`: the key of site.toml that names the file. Raises ConfigError for a file that can't be read, that others can read, or
    that is empty.
    """
    if file is None:
        return os.environ.get(variable, "").strip() or None
    path = Path(file)
    try:
        if path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
            raise secret_problem(key, f"{path} can be read by others than its owner", f"chmod 600 {path}")
        found = path.read_text(encoding="utf-8").strip()
    except OSError as error:
        raise secret_problem(key, f"a file that can be read ({error.strerror})", str(path)) from None
    except UnicodeDecodeError:
        raise secret_problem(key, f"{path} is no text", str(path)) from None
    if not found:
        raise secret_problem(key, f"{path} is empty; it holds the secret and nothing else", str(path))
    return found


def secret_problem(key: str, expected: str, write: str) -> ConfigError:
    return ConfigError([ConfigProblem("site.toml", key, expected, write)])
