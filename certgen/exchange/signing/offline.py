"""The library that signs, without the network that it brings along.

pyHanko can ask time-stamping and revocation services, and imports an HTTP client for it. Nothing here asks
anybody anything. So before it is imported, a module that refuses every use takes that client's place: where
the client is installed it is not loaded, and where it is not, signing works without it.
"""

from __future__ import annotations

import logging
import sys
from importlib.machinery import ModuleSpec
from importlib.util import find_spec
from types import ModuleType
from typing import Any, NoReturn

#: What signing needs beyond certgen itself, by the names that are imported.
_NEEDED = ("pyhanko", "pyhanko_certvalidator", "cryptography", "asn1crypto")
#: What opens connections there.
_CLIENT = "aiohttp"


class SigningError(ValueError):
    """A file that cannot be signed, or a key or certificate that cannot be read."""


class MissingError(SigningError):
    """The packages that signing needs are not installed."""


class NetworkError(RuntimeError):
    """Something asked for a connection, which certgen never makes."""


class _Absent(ModuleType):
    """Stands where an HTTP client would stand. Its names may be imported, and serve for nothing."""

    def __init__(self, name: str) -> None:
        super().__init__(name, "No client: certgen makes no connections.")
        self.__spec__ = ModuleSpec(name, None)

    def __getattr__(self, name: str) -> type:
        if name.startswith("__"):
            raise AttributeError(name)

        def refuse(*_arguments: Any, **_options: Any) -> NoReturn:  # whatever the client would have taken
            message = f"certgen makes no connections; {self.__name__}.{name} was asked for one"
            raise NetworkError(message)

        return type(name, (), {"__new__": refuse, "__init_subclass__": classmethod(refuse)})


def prepare_signing() -> None:
    """Make ready for importing pyHanko. Raises `MissingError` where what it takes is not installed."""
    if any(find_spec(name) is None for name in _NEEDED):
        raise MissingError(
            "signing needs packages that are not installed; to install them: pip install 'certgen[signing]'"
        )
    if _CLIENT not in sys.modules:
        sys.modules[_CLIENT] = _Absent(_CLIENT)
    # It reports what hostile files do on the log, with tracebacks; what is wrong is said in the answer.
    for name in ("pyhanko", "pyhanko_certvalidator"):
        logger = logging.getLogger(name)
        if not logger.handlers:
            logger.addHandler(logging.NullHandler())
