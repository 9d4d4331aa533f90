"""What to set a torque wrench to that turns a bolt through an adaptor."""

from dataclasses import dataclass

import pint

from enginecalc import bolted_joint
from enginecalc.records.bolts import WHERE
from enginecalc.units import Q, short


@dataclass(frozen=True)
class WrenchSetting:
    """What to set a wrench to that turns through an adaptor, and the sentence that says so."""

    setting: pint.Quantity
    sentence: str


def wrench_setting(engine, torque=None, *, reach, adaptor, angle):
    """Return the `WrenchSetting` of a torque wrench with a crow-foot adaptor.

    Parameters
    ----------
    engine : Engine
        Gives the torque where none is typed.
    torque : quantity
        Wanted at the bolt.
    reach, adaptor : quantity
        Middle of the grip to the wrench's square; the square to the bolt's axis.
    angle : quantity
        Of the adaptor: 0 straight on from the wrench, 180 deg folded back.

    Raises
    ------
    ValueError
        When there is no torque, or the adaptor is as long as the wrench.
    """
    torque = engine.rod_bolt.torque if torque is None else torque
    if torque is None:
        raise ValueError(f"wrench setting needs rod_bolt.torque: {WHERE['rod_bolt.torque']}")
    setting = bolted_joint.adaptor_setting(torque, reach, adaptor, angle).to(torque.units)
    share = (setting / torque).m_as("")
    if abs(share - 1) < 5e-4:  # no wrench is read as finely
        why = "as wanted at the bolt: at a right angle the adaptor makes the wrench no longer"
    elif share < 1:
        why = f"for {short(torque)} at the bolt: the adaptor makes the wrench longer"
    else:
        why = f"for {short(torque)} at the bolt: folded back it makes the wrench shorter"
    set_to = short(Q(float(f"{setting.m:.4g}"), torque.units))
    return WrenchSetting(setting, f"set {set_to} {why}; pull at the middle of the grip")
