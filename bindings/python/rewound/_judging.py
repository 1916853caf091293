# SPDX-License-Identifier: MIT
"""Records and their judgement."""

from __future__ import annotations

import os
from typing import Any, Dict, Iterable, List, Mapping, Optional, Union

from . import _core
from ._core import Record, Reference
from ._shown import Shown

AnyPath = Union[str, bytes, "os.PathLike[Any]"]


class Result(Shown):
    """Judgement of one visit: a decision, and what stands behind it.

    Made by :func:`judge`; its JSON has the format ``rewound-result/1``. The attributes are parts of :meth:`to_dict`; treat
    them as read-only.
    """

    @property
    def decision(self) -> str:
        """``"release"``, ``"hold"`` or ``"undecided"``; a needed check that is missing never releases."""
        return self._values["decision"]

    @property
    def reasons(self) -> List[str]:
        """The weightiest reasons for the decision, at most three sentences."""
        return self._values["reasons"]

    @property
    def findings(self) -> List[Dict[str, Any]]:
        """One dict per finding, in the order of judgement.

        Keys are ``check``, ``subject``, ``outcome``, ``quantity``, ``value``, ``unit`` (of value, interval and
        limits), ``low``, ``high`` (interval of the value), ``limit_low``, ``limit_high``, ``source``, ``message``
        and ``bearing``; a number that does not exist is None.
        """
        return self._values["findings"]

    @property
    def draw(self) -> List[Dict[str, Any]]:
        """One dict per speed: level of the current against what is expected [%], exponent [1], outcome, flag."""
        return self._values["draw"]

    @property
    def steps(self) -> Dict[str, Any]:
        """Order of the speeds: ``outcome``, ``flag``, ``best_order`` and ``voltage_V`` [V] of the comparison."""
        return self._values["steps"]

    @property
    def next(self) -> List[str]:
        """What to do next, weightiest first."""
        return self._values["next"]

    def __repr__(self) -> str:
        return f"<rewound.Result {self._values['machine']}: {self.decision}, {len(self.findings)} findings>"


def load_record(path: AnyPath) -> Record:
    """Read a record file and the comma-separated tables it names.

    Parameters
    ----------
    path : str, bytes or os.PathLike
        A TOML file of format ``rewound-record/1``. Every number in it carries its unit in its key.

    Returns
    -------
    Record

    Raises
    ------
    InputError
        The file cannot be read, or a key or value in it cannot be; ``file``, ``line`` and ``field`` say where.

    See Also
    --------
    Record.from_dict : the same from a dict
    """
    return _core.load_record(os.fsencode(path))


def judge(
    record: Record,
    reference: Optional[Reference] = None,
    earlier: Optional[Record] = None,
    policy: Union[None, AnyPath, Mapping[str, Any]] = None,
) -> Result:
    """Judge one visit's record: release, hold, or undecided.

    Parameters
    ----------
    record : Record
        The visit to judge.
    reference : Reference, optional
        What good machines of the model draw; where it is given it outranks the earlier visit.
    earlier : Record, optional
        An earlier visit of the same machine to compare with.
    policy : str, bytes, os.PathLike or dict, optional
        The shop's own policy: a file of format ``rewound-policy/1``, or a dict with that file's keys
        (``format`` included). Keys it leaves out keep the default policy's values.

    Returns
    -------
    Result

    Raises
    ------
    InputError
        The policy cannot be read, or a record or reference is of another machine, model or rating.
    TypeError
        ``record`` or ``earlier`` is not a Record.
    """
    return Result(_core.judge(record, reference, earlier, _rules(policy)))


def _rules(policy: Union[None, AnyPath, Mapping[str, Any]]) -> Any:
    if isinstance(policy, Mapping):
        return dict(policy)
    return None if policy is None else os.fsencode(policy)


def learn(records: Iterable[Record], policy: Union[None, AnyPath, Mapping[str, Any]] = None) -> Reference:
    """Learn what good machines of one model draw.

    Parameters
    ----------
    records : iterable of Record
        Visits of good machines of one model, each visit once. With four or more, a machine that is very
        improbable beside the others is set aside and named in ``set_aside``.
    policy : str, bytes, os.PathLike or dict, optional
        As in :func:`judge`; its ``reference_...`` limits are the spread believed in beforehand.

    Returns
    -------
    Reference

    Raises
    ------
    InputError
        No record, or records of different models, ratings or shaft conditions, or one visit twice.
    """
    return _core.learn(list(records), _rules(policy))


def load_reference(path: AnyPath) -> Reference:
    """Read a reference file of format ``rewound-reference/1``, as :meth:`Reference.save` writes it.

    Raises
    ------
    InputError
        The file cannot be read, or a key or value in it cannot be.
    """
    return _core.load_reference(os.fsencode(path))


def _save(self: Reference, path: AnyPath) -> None:
    """Write the reference to a file, whole or not at all.

    Parameters
    ----------
    path : str, bytes or os.PathLike

    Raises
    ------
    InputError
        The file cannot be written.
    """
    _core.save_reference(self, os.fsencode(path))


_save.__name__ = "save"
Reference.save = _save  # type: ignore[method-assign]
