"""Voltages of insulation with their kind: what a part bears for a minute is not what it bears for years."""

from typing import Literal, TypeAlias

import attrs

from rs485kit.errors import InputError, Problem

VoltageKind: TypeAlias = Literal["working RMS", "working peak", "60 s RMS", "impulse peak", "surge peak"]
"""Kinds of voltages across insulation, of which no two are compared or exchanged."""


@attrs.frozen
class InsulationVoltage:
    """A voltage that insulation bears or has to bear, with its kind.

    Parameters
    ----------
    value : float
        The voltage; NaN: not known [V].
    kind : str
        "working RMS", "working peak", "60 s RMS", "impulse peak" or "surge peak" [-].
    """

    value: float
    kind: VoltageKind

    def bears(self, demand: "InsulationVoltage") -> bool | None:
        """Return whether a rating covers a demand of the same kind.

        Parameters
        ----------
        demand : InsulationVoltage
            What is asked for [-].

        Returns
        -------
        bool or None
            Whether it does; None where one of the two is not known [-].

        Raises
        ------
        InputError
            If the kinds differ: no rule turns one into the other.
        """
        if demand.kind != self.kind:
            raise InputError(
                Problem(
                    "InsulationVoltage.bears", f"a demand of {demand.value:g} V, {demand.kind}",
                    f"a demand of the kind of the rating, {self.kind}",
                    "kinds are not converted: state the part's own figure of that kind",
                )
            )  # fmt: skip
        if self.value != self.value or demand.value != demand.value:
            return None
        return self.value >= demand.value * (1.0 - 1e-12)
