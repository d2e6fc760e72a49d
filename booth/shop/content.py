"""What is in a coating, of the mix as it is sprayed: the figures that VOC, HAP and dilution are reckoned from.

Every key may be left out: what the maker doesn't say is shown as missing, never as zero. Where there is none, the file says
`"0 g/L"`.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, Strict, model_validator

from booth.shop.model import Model
from booth.shop.problems import expected
from booth.shop.quantities import Name, Share, Source, quantity

PerVolume = quantity("density")
Density = quantity("density", positive=True)
Part = Annotated[float, Strict(), Field(ge=0, le=1)]
"""From 0 to 1."""


class Solvent(Model):
    """One solvent of the mix, for the estimate of dilution air. `share` is by volume, `lel` in % of air by volume."""

    name: Name = Field(examples=['"toluene"'])
    share: Share = Field(examples=["0.15"])
    vapour: quantity("vapour_volume", positive=True)
    lel: Annotated[float, Strict(), Field(gt=0, lt=100)] = Field(examples=["1.4"])
    source: Source


class Content(Model):
    """`density` of the mix; `voc`, `water`, `exempt`, `hap` in mass by volume of it; `solids` is its share by volume."""

    density: Density | None = Field(default=None, examples=['"1.05 kg/L"'])
    voc: PerVolume | None = Field(default=None, ge=0, examples=['"420 g/L"'])
    water: PerVolume | None = Field(default=None, ge=0, examples=['"0 g/L"'])
    exempt: PerVolume | None = Field(default=None, ge=0, examples=['"0 g/L"'])
    exempt_density: Density | None = Field(default=None, examples=['"0.79 kg/L"'])
    solids: Part | None = Field(default=None, examples=["0.48"])
    hap: PerVolume | None = Field(default=None, ge=0, examples=['"35 g/L"'])
    source: Source
    solvents: tuple[Solvent, ...] = ()

    @model_validator(mode="after")
    def _fits_into_itself(self) -> Content:
        parts = [one for one in (self.voc, self.water, self.exempt) if one is not None]
        if self.density is not None and sum(parts) > self.density:
            raise expected("VOC, water and exempt solvents together weigh more than the coating", "figures that fit its density")
        if self.exempt and self.exempt_density is None:
            raise expected("a mass of exempt solvent needs its density", '"0.79 kg/L"', at="exempt_density")
        if sum(one.share for one in self.solvents) > 1:
            raise expected("the solvents are more than the whole mix", "shares that add up to 1 at most", at="solvents")
        return self
