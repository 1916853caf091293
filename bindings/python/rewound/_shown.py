# SPDX-License-Identifier: MIT
"""What the library computed and can show."""

from __future__ import annotations

import json
from functools import cached_property
from typing import Any, Dict


class Shown:
    """A computed result as dict, as JSON and as text. The attributes are parts of :meth:`to_dict`."""

    def __init__(self, computed: Any) -> None:
        self._computed = computed

    @cached_property
    def _values(self) -> Dict[str, Any]:
        return self.to_dict()

    def to_dict(self) -> Dict[str, Any]:
        """The whole result as a new dict, equal to what the command-line tool writes as JSON."""
        return json.loads(self.to_json())

    def to_json(self) -> str:
        """The whole result as JSON text; its key ``format`` names what it is."""
        return self._computed.to_json()

    def to_text(self) -> str:
        """The result as plain text for people, lines of at most 79 characters."""
        return self._computed.to_text()
