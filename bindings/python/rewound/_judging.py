# SPDX-License-Identifier: MIT
"""Records and their judgement."""

from __future__ import annotations

import os
from typing import Any, Iterable, List, Mapping, Optional, Union

from . import _core
from ._core import Record, Reference, Spread
from ._errors import expect_kind
from ._files import AnyPath, there
from ._result import Result
from ._words import still_called


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
    FileNotFoundError
        There is no such file.
    InputError
        The file cannot be read, or a key or value in it cannot be; ``file``, ``line`` and ``field`` say where.

    See Also
    --------
    Record.from_dict : the same from a dict

    Examples
    --------
    >>> rewound.load_record("nowhere.toml")
    Traceback (most recent call last):
    ...
    rewound.MissingFileError: [Errno 2] No such file or directory: 'nowhere.toml'
    """
    return _core.load_record(there(path))


@still_called("earlier", "policy", "spread")
def judge(
    record: Record,
    reference: Optional[Reference] = None,
    *,
    earlier: Optional[Record] = None,
    policy: Union[None, AnyPath, Mapping[str, Any]] = None,
    spread: Optional[Spread] = None,
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
    spread : Spread, optional
        How good machines of any model differ, in place of the policy's own belief.

    Returns
    -------
    Result

    Raises
    ------
    InputError
        The policy cannot be read, or a record or reference is of another machine, model or rating.
    TypeError
        ``record`` or ``earlier`` is not a Record.

    Examples
    --------
    >>> result = rewound.judge(rewound.sample_record("gh07_recheck"), earlier=rewound.sample_record())
    >>> result.decision, len(result.reasons)
    ('release', 3)
    """
    expect_kind("record", record, Record, "a Record, as load_record and Record.from_dict make it")
    expect_kind("reference", reference, (Reference, type(None)), "a Reference, as learn and load_reference make it")
    expect_kind("earlier", earlier, (Record, type(None)), "a Record of an earlier visit")
    expect_kind("spread", spread, (Spread, type(None)), "a Spread, as learn_spread and load_spread make it")
    rules = _rules(policy, spread)
    return Result(_core.judge(record, reference, earlier, rules), record, reference, earlier, rules)


def _rules(policy: Any, spread: Optional[Spread] = None) -> Any:
    if spread is not None:
        return (_rules(policy), spread)
    if policy is None:
        return None
    if isinstance(policy, Mapping):
        return dict(policy)
    expect_kind("policy", policy, (str, bytes, os.PathLike), "None, a path, or a dict with the keys of a policy file")
    return there(policy)


@still_called("spread")
def learn(
    records: Iterable[Record],
    policy: Union[None, AnyPath, Mapping[str, Any]] = None,
    *,
    spread: Optional[Spread] = None,
) -> Reference:
    """Learn what good machines of one model draw.

    Parameters
    ----------
    records : iterable of Record
        Visits of good machines of one model, each visit once. With four or more, a machine that is very
        improbable beside the others is set aside and named in ``set_aside``.
    policy : str, bytes, os.PathLike or dict, optional
        As in :func:`judge`; its ``reference_...`` limits are the spread believed in beforehand.
    spread : Spread, optional
        How good machines of any model differ, believed in instead.

    Returns
    -------
    Reference

    Raises
    ------
    InputError
        No record, or records of different models, ratings or shaft conditions, or one visit twice.

    Examples
    --------
    >>> reference = rewound.learn(rewound.simulate("circulator-40", seed=n) for n in (1, 2, 3))
    >>> value, low, high = reference.expected("high", [230.0])
    >>> bool(low[0] < value[0] < high[0])
    True
    """
    return _core.learn(records_in("records", records), _rules(policy, spread))


def learn_spread(references: Iterable[Reference], policy: Union[None, AnyPath, Mapping[str, Any]] = None) -> Spread:
    """Learn from references of several models how good machines of any model differ.

    Parameters
    ----------
    references : iterable of Reference
        Those of one machine say nothing of it and are passed over.
    policy : str, bytes, os.PathLike or dict, optional
        As in :func:`judge`; its ``reference_...`` limits count as a few machines.

    Returns
    -------
    Spread

    Raises
    ------
    InputError
        No reference, or none of two machines or more.

    Examples
    --------
    >>> models = [[rewound.simulate(name, seed=n) for n in (1, 2)] for name in ("circulator-40", "desk-25")]
    >>> rewound.learn_spread([rewound.learn(records) for records in models])
    <rewound.Spread of 4 machines, 2 references>
    """
    return _core.learn_spread(list(references), _rules(policy))


def load_spread(path: AnyPath) -> Spread:
    """Read a spread file, as :meth:`Spread.save` writes it.

    Parameters
    ----------
    path : str, bytes or os.PathLike
        A TOML file of format ``rewound-spread/1``.

    Returns
    -------
    Spread

    Raises
    ------
    InputError
        The file cannot be read, or a key or value in it cannot be.
    """
    return _core.load_spread(there(path))


def records_in(field: str, records: Iterable[Record]) -> List[Record]:
    """The records as a list; anything else is refused in one line."""
    expect_kind(field, records, Iterable, "records in a list or another iterable")
    out = list(records)
    for place, record in enumerate(out):
        expect_kind(f"{field}[{place}]", record, Record, "a Record")
    return out


def load_reference(path: AnyPath) -> Reference:
    """Read a reference file, as :meth:`Reference.save` writes it.

    Parameters
    ----------
    path : str, bytes or os.PathLike
        A TOML file of format ``rewound-reference/1``.

    Returns
    -------
    Reference

    Raises
    ------
    FileNotFoundError
        There is no such file.
    InputError
        The file cannot be read, or a key or value in it cannot be.
    """
    return _core.load_reference(there(path))
