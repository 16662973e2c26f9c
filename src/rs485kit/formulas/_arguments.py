"""The doors of the formulas: plain SI numbers or arrays in, float64 out, every bad argument named in one error."""

from collections.abc import Sequence
from dataclasses import dataclass
from reprlib import Repr
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

from rs485kit.errors import InputError, Problem

Array: TypeAlias = npt.NDArray[np.float64]
Numbers: TypeAlias = float | Sequence[float] | npt.NDArray[np.floating[Any]] | npt.NDArray[np.integer[Any]]
"""What a formula takes: a number, a flat sequence of numbers, or an array of any shape."""
FloatOrArray: TypeAlias = float | Array
"""What a formula gives: a float if every argument was one number, otherwise an array of float64."""
ComplexArray: TypeAlias = npt.NDArray[np.complex128]
ComplexNumbers: TypeAlias = complex | Sequence[complex] | npt.NDArray[np.number[Any]]
"""What a formula takes for an impedance or a propagation constant: a number, a flat sequence of such, or an array."""
ComplexOrArray: TypeAlias = complex | ComplexArray
"""What such a formula gives: a complex if every argument was one number, otherwise an array of complex128."""

# Beyond these no quantity of a bus lies, and within them no formula here overflows or divides by a denormal number.
SMALLEST = 1e-30
LARGEST = 1e30

_PLAIN = (int, float, np.integer, np.floating)
_COMPLEX = (*_PLAIN, complex, np.complexfloating)
_brief = Repr()
_brief.maxstring = _brief.maxother = 60


@dataclass(frozen=True, slots=True)
class Argument:
    """One argument as it came in, with what it has to be."""

    name: str
    value: object
    unit: str
    lower: float
    upper: float
    wanted: str
    cure: str = ""
    whole: bool = False
    optional: bool = False
    is_complex: bool = False


def number(name: str, value: object, unit: str) -> Argument:
    """Return an argument that may be any finite number."""
    return Argument(name, value, unit, -LARGEST, LARGEST, f"a finite number up to {LARGEST:g}, of either sign")


def positive(name: str, value: object, unit: str) -> Argument:
    """Return an argument that must be above zero."""
    return Argument(name, value, unit, SMALLEST, LARGEST, f"a positive number, {SMALLEST:g} to {LARGEST:g}")


def not_negative(name: str, value: object, unit: str) -> Argument:
    """Return an argument that must not be below zero."""
    return Argument(name, value, unit, 0.0, LARGEST, f"0 or a positive number up to {LARGEST:g}")


def optional_resistance(name: str, value: object) -> Argument:
    """Return a resistance that may be None: absent, and then without limit [ohm]."""
    wanted = f"a positive number, {SMALLEST:g} to {LARGEST:g}, or None where there is none"
    return Argument(name, value, "ohm", SMALLEST, LARGEST, wanted, optional=True)


def loads(
    termination: Numbers | None, pair_load: Numbers | None, line_load: Numbers | None
) -> tuple[Argument, Argument, Argument]:
    """Return the three ways in which a lumped bus loads its bias, each of which may be absent."""
    return (
        optional_resistance("termination", termination),
        optional_resistance("pair_load", pair_load),
        optional_resistance("line_load", line_load),
    )


def within(name: str, value: object, unit: str, lower: float, upper: float, *, cure: str = "") -> Argument:
    """Return an argument that must lie between two bounds."""
    return Argument(name, value, unit, lower, upper, f"a number from {lower:.9g} to {upper:.9g}", cure)


def whole(name: str, value: object, lower: int, upper: int, *, cure: str = "") -> Argument:
    """Return an argument that must be a whole number between two bounds."""
    return Argument(name, value, "-", lower, upper, f"a whole number from {lower} to {upper}", cure, whole=True)


def passive(name: str, value: object, unit: str, *, optional: bool = False, smallest: float = SMALLEST) -> Argument:
    """Return a complex argument of passive matter: the real part not below zero, the magnitude above zero."""
    wanted = f"a real or complex number with a real part of 0 or more and a magnitude of {smallest:g} to {LARGEST:g}"
    wanted += ", or None where there is none" if optional else ""
    return Argument(name, value, unit, smallest, LARGEST, wanted, optional=optional, is_complex=True)


def arguments(function: str, *given: Argument) -> list[Array]:
    """Return the arguments as arrays that broadcast, or raise one InputError with everything that is wrong."""
    return _gathered(function, given)


def complex_arguments(function: str, *given: Argument) -> list[ComplexArray]:
    """Return arguments of which some are complex as complex arrays, or raise one InputError with all that is wrong."""
    return [array.astype(np.complex128) for array in _gathered(function, given)]


def _gathered(function: str, given: Sequence[Argument]) -> list[npt.NDArray[Any]]:
    problems: list[Problem] = []
    arrays: list[npt.NDArray[Any]] = []
    for argument in given:
        array = _array(argument)
        if array is None:
            problems.append(_wrong_type(function, argument))
            continue
        arrays.append(array)
        if not (argument.optional and argument.value is None):
            problems.extend(_out_of_range(function, argument, array))
    if problems:
        raise InputError(*problems)
    _refuse_shapes(function, given, arrays)
    return arrays


def refuse(function: str, name: str, condition: Any, value: Any, unit: str, wanted: str, *, cure: str = "") -> None:
    """Raise an InputError that shows the first value for which the condition holds, if it holds anywhere."""
    condition, value = np.broadcast_arrays(condition, value)
    if condition.any():
        first = tuple(int(index) for index in np.argwhere(condition)[0])
        raise InputError(_problem(function, name, first, f"{value[first]:.9g} {unit}", f"{wanted} [{unit}]", cure))


def refuse_choice(function: str, name: str, value: object, choices: Sequence[str]) -> None:
    """Raise an InputError if a named choice is none of those there are."""
    if not (isinstance(value, str) and value in choices):
        wanted = "one of " + ", ".join(repr(choice) for choice in choices)
        raise InputError(_problem(function, name, (), _brief.repr(value), wanted, ""))


def answer(value: npt.ArrayLike) -> FloatOrArray:
    """Return a plain float for a single value and a float64 array for anything else."""
    array = np.asarray(value, dtype=np.float64)
    return float(array) if array.ndim == 0 else array


def complex_answer(value: npt.ArrayLike) -> ComplexOrArray:
    """Return a plain complex for a single value and a complex128 array for anything else."""
    array = np.asarray(value, dtype=np.complex128)
    return complex(array) if array.ndim == 0 else array


def _array(argument: Argument) -> npt.NDArray[Any] | None:
    value = argument.value
    if argument.optional and value is None:
        return np.asarray(np.inf)
    kinds = _COMPLEX if argument.is_complex else _PLAIN
    if isinstance(value, list | tuple):
        if not all(_is_plain(item, kinds) for item in value):
            return None
    elif isinstance(value, np.ma.MaskedArray) or not (isinstance(value, np.ndarray) or _is_plain(value, kinds)):
        return None
    array = np.asarray(value)
    if array.dtype.kind not in ("iufc" if argument.is_complex else "iuf") and array.size:
        return None
    with np.errstate(over="ignore"):
        return array.astype(np.complex128 if argument.is_complex else np.float64)


def _is_plain(value: object, kinds: tuple[type, ...]) -> bool:
    return isinstance(value, kinds) and not isinstance(value, bool)


def _wrong_type(function: str, argument: Argument) -> Problem:
    given = f"{_brief.repr(argument.value)} of type {type(argument.value).__name__}"
    cure = f"pass plain numbers, their unit is [{argument.unit}]"
    return _problem(function, argument.name, (), given, f"{argument.wanted}, or an array of such", cure)


def _out_of_range(function: str, argument: Argument, array: npt.NDArray[Any]) -> list[Problem]:
    # A comparison with NaN is False, so the condition is put as "inside" and then turned round.
    size = np.abs(array) if argument.is_complex else array
    outside = ~((size >= argument.lower) & (size <= argument.upper))
    if argument.is_complex:
        outside |= ~(array.real >= 0.0)
    if argument.whole:
        outside |= array != np.rint(array)
    if not outside.any():
        return []
    first = tuple(int(index) for index in np.argwhere(outside)[0])
    given = f"{array[first]:.9g} {argument.unit}"
    return [_problem(function, argument.name, first, given, f"{argument.wanted} [{argument.unit}]", argument.cure)]


def _refuse_shapes(function: str, given: Sequence[Argument], arrays: Sequence[npt.NDArray[Any]]) -> None:
    try:
        np.broadcast_shapes(*(array.shape for array in arrays))
    except ValueError:
        pairs = zip(given, arrays, strict=True)
        shapes = ", ".join(f"{argument.name} {array.shape}" for argument, array in pairs if array.ndim)
        wanted = "arrays of one shape, or shapes that broadcast"
        problem = Problem(
            function, f"arrays of the shapes {shapes}", wanted, "give one number where one value serves all"
        )
        raise InputError(problem) from None


def _problem(function: str, name: str, index: tuple[int, ...], given: str, wanted: str, cure: str) -> Problem:
    where = f"{list(index)}" if index else ""
    return Problem(f"{function}.{name}{where}", given, wanted, cure)
