"""Certificates for tests, made with the openssl command: an authority, and what it signs. Good for a day."""

from __future__ import annotations

import subprocess
from dataclasses import dataclass
from pathlib import Path

_NEW_KEY = ("-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-noenc")


@dataclass(frozen=True)
class Signed:
    """A certificate and its key, both PEM files."""

    cert: Path
    key: Path


class Authority:
    """Signs certificates; `cert` is what whoever trusts it is given."""

    def __init__(self, folder: Path, name: str) -> None:
        self._folder, self._name = folder, name
        self.cert, self._key = folder / f"{name}.pem", folder / f"{name}.key"
        subject = ("-subj", f"/CN={name}", "-days", "1")
        _openssl("req", "-x509", *_NEW_KEY, *subject, "-keyout", self._key, "-out", self.cert)

    def sign(self, name: str, *extensions: str) -> Signed:
        """`extensions` as openssl writes them: subjectAltName=IP:127.0.0.1"""
        signed = Signed(self._folder / f"{self._name}-{name}.pem", self._folder / f"{self._name}-{name}.key")
        asked = signed.cert.with_suffix(".csr")
        _openssl("req", "-new", *_NEW_KEY, "-subj", f"/CN={name}", "-keyout", signed.key, "-out", asked)
        options = signed.cert.with_suffix(".ext")
        options.write_text("".join(f"{line}\n" for line in extensions), encoding="utf-8")
        by = ("-CA", self.cert, "-CAkey", self._key, "-CAcreateserial", "-days", "1", "-extfile", options)
        _openssl("x509", "-req", "-in", asked, "-out", signed.cert, *by)
        return signed


def _openssl(*arguments: object) -> None:
    done = subprocess.run(["openssl", *map(str, arguments)], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
