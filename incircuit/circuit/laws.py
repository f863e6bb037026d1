"""The laws of junctions and channels, as pure vectorised functions: value and slope, nothing else.

They are the laws of SPICE's D, Q and M (level 1) cards: Shockley's equation, Ebers–Moll in its
transport form (two junctions and two couplings, see `incircuit.parts.elements`), Shichman–Hodges.
Source: A. Vladimirescu, S. Liu, "The simulation of MOS integrated circuits using SPICE2", UCB/ERL
M80/7 (1980) for M; P. Antognetti, G. Massobrio, "Semiconductor Device Modeling with SPICE",
ch. 1, 2 and 4 for D, Q and M (both from memory). What the books leave open was measured on ngspice
39; `tests/spice/test_laws.py` repeats the measurements. In particular:

* Forward and down to −3·n·Vt: i = is·(exp(v/(n·Vt)) − 1).
* Below −3·n·Vt a cubic, which joins in value and slope and goes to −is:
  i = −is·(1 + (3·n·Vt/(e·v))³), with e = 2.718…
* Breakdown, below −`bv_knee`: i = −is·exp(−(v + bv_knee)/(n·Vt)). NBV defaults to n. The knee
  is not BV: it is moved so that about −IBV flows at −BV, see `breakdown_knee`.
* gmin lies across the junction itself, inside `rs`, and is not part of these laws.
* ngspice's Boltzmann constant and charge are those of CODATA 2014; ours are the exact ones of the
  SI of 2019. Vt differs by 3.4e-7 of itself: 0.2 µV at 0.6 V.
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from incircuit.parts.elements import DRAWN_AT

Floats: TypeAlias = NDArray[np.float64]
FloatLike: TypeAlias = float | Floats

K_OVER_Q = 1.380649e-23 / 1.602176634e-19  # [V/K] SI 2019, exact
ZERO_CELSIUS = 273.15  # [K] SI
NOMINAL_CELSIUS = 25.0  # [°C] temperature at which parameters hold
EXPONENT_CAP = 80.0  # exp continues in a straight line from here: 5.5e34, far from overflow


def thermal_voltage(celsius: float = NOMINAL_CELSIUS) -> float:
    """kT/q [V] at a temperature [°C].

    >>> round(thermal_voltage(25.0) * 1e3, 6)
    25.692579
    """
    return K_OVER_Q * (celsius + ZERO_CELSIUS)


def junction_law(v: FloatLike, is_: FloatLike, nvt: FloatLike,
                 bv_knee: FloatLike = np.inf) -> tuple[Floats, Floats]:
    """Current [A] through a junction and its slope [S] at the voltage `v` [V] across it.

    `is_` [A] is the saturation current at the junction's temperature, `nvt` [V] is n·kT/q,
    `bv_knee` [V] comes from `breakdown_knee` (infinite: never breaks down). All broadcast.
    No series resistance and no gmin in it. Never overflows: above `EXPONENT_CAP`·nvt, and as far
    beyond the knee, the curve goes on in a straight line with the slope it has there.
    """
    v, is_, nvt, bv_knee = (np.asarray(x, dtype=np.float64) for x in (v, is_, nvt, bv_knee))
    x = np.asarray(np.minimum(np.maximum(v, -1e9), 1e9) / nvt)
    slope = np.exp(np.minimum(np.maximum(x, -3.0), EXPONENT_CAP))
    shape = slope - 1.0  # exp(x) − 1 loses nothing that matters: 1e-16 of is
    reverse = x < -3.0
    if reverse.any():
        third = (3.0 / np.e) / np.minimum(x, -3.0)
        cubic = third * third * third
        shape = np.where(reverse, -1.0 - cubic, shape)
        slope = np.where(reverse, cubic * third * np.e, slope)
    if (x > EXPONENT_CAP).any():
        shape = np.where(x > EXPONENT_CAP, slope * (1.0 + (x - EXPONENT_CAP)) - 1.0, shape)
    if (v < -bv_knee).any():
        shape, slope = _broken(x, bv_knee / nvt, shape, slope)
    return np.asarray(shape * is_), np.asarray(slope * (is_ / nvt))


def _broken(x: Floats, knee: Floats, shape: Floats, slope: Floats) -> tuple[Floats, Floats]:
    """Shape and slope with breakdown put in; `x` and `knee` in units of n·Vt, infinite knees never break."""
    broken = (x < -3.0) & (x < -knee)
    beyond = np.where(broken, -(x + np.where(np.isfinite(knee), knee, 0.0)), 0.0)
    e = np.exp(np.minimum(beyond, EXPONENT_CAP))
    grown = e * (1.0 + np.maximum(beyond - EXPONENT_CAP, 0.0))
    return np.where(broken, -grown, shape), np.where(broken, e, slope)


def breakdown_knee(bv: FloatLike, ibv: FloatLike, is_: FloatLike, n: FloatLike, vt: FloatLike) -> Floats:
    """Voltage [V] at which the breakdown exponential starts, so that −ibv [A] flows at −bv [V].

    Solves xbv = bv − n·vt·ln(ibv/is + 1 − xbv/vt) by fixed point, as SPICE does (it stops at
    reltol of ibv; this goes on to full precision). Where ibv < is·bv/vt the knee stays at bv,
    SPICE's rule again. `is_` is taken at the junction's temperature; infinite bv gives infinity.
    """
    arrays = (np.asarray(x, dtype=np.float64) for x in (bv, ibv, is_, n, vt))
    bv, ibv, is_, n, vt = np.broadcast_arrays(*arrays)
    knee = np.array(bv)
    movable = np.isfinite(bv) & (is_ > 0.0) & (ibv * vt >= is_ * bv)
    b, ratio, n, vt = bv[movable], ibv[movable] / is_[movable], n[movable], vt[movable]
    found = b - n * vt * np.log1p(ratio)
    for _ in range(25):
        last, found = found, b - n * vt * np.log(np.maximum(ratio + 1.0 - found / vt, 1e-300))
        if np.array_equal(found, last):
            break
    knee[movable] = found
    return knee


def drawn_junction(is_: FloatLike, nvt: FloatLike, volts: FloatLike, slope: FloatLike,
                   at: float = DRAWN_AT) -> tuple[Floats, Floats]:
    """Saturation current [A] and n·Vt [V] of a junction that drops `volts` more at the current `at` [A] and
    whose n is (1 + `slope`) times.

    Solves at = is·exp(v/(n·Vt)) for is at the drop v + volts; all broadcast.
    """
    turned = np.asarray(nvt) * (1.0 + np.asarray(slope))
    return at * np.exp((np.log(np.asarray(is_) / at) * nvt - volts) / turned), turned


def drawn_gain(gain: FloatLike, nvt: FloatLike, own: FloatLike, slope: FloatLike) -> Floats:
    """Gain of a coupling whose junction was drawn, n·Vt `nvt` afterwards, with `own` [V] of its own.

    The transport current is one law for both junctions of a transistor: it follows what they share, and not
    what the drop of one of them has of its own.
    """
    return np.asarray(np.asarray(gain) ** (1.0 / (1.0 + np.asarray(slope))) * np.exp(np.asarray(own) / nvt))


def is_at(is25: FloatLike, celsius: FloatLike, n: FloatLike = 1.0, eg: FloatLike = 1.11,
          xti: FloatLike = 3.0) -> Floats:
    """Saturation current [A] at `celsius`, from the one at 25 °C.

    is·exp(((T/T25 − 1)·eg/(n·Vt(T))) + (xti/n)·ln(T/T25)); `eg` in eV. For the two junctions of a
    bipolar transistor n is 1, and beta does not change (XTB 0).
    """
    kelvin = np.asarray(celsius, dtype=np.float64) + ZERO_CELSIUS
    ratio = kelvin / (NOMINAL_CELSIUS + ZERO_CELSIUS)
    vt = K_OVER_Q * kelvin
    exponent = ((ratio - 1.0) * np.asarray(eg) / vt + np.asarray(xti) * np.log(ratio)) / np.asarray(n)
    scaled: Floats = np.asarray(is25, dtype=np.float64) * np.exp(exponent)
    return scaled


def _bandgap(kelvin: Floats) -> Floats:
    """Band gap of silicon [eV] as the M card takes it (constants: SPICE level 1, from memory)."""
    gap: Floats = 1.16 - 7.02e-4 * kelvin**2 / (kelvin + 1108.0)
    return gap


def _potential(kelvin: Floats) -> Floats:
    """The M card's temperature term of a built-in potential [V]; zero at 300.15 K."""
    vt = K_OVER_Q * kelvin
    term = 1.1150877 / (K_OVER_Q * 2.0 * 300.15) - _bandgap(kelvin) / (2.0 * vt)
    potential: Floats = -2.0 * vt * (1.5 * np.log(kelvin / 300.15) + term)
    return potential


def channel_at(vto25: FloatLike, kp25: FloatLike, celsius: FloatLike,
               sign: int = 1) -> tuple[Floats, Floats]:
    """Threshold [V] and transconductance [A/V²] of a channel at `celsius`, from those at 25 °C.

    SPICE's level 1 with PHI 0.6 V, γ 0: kp falls as T^−1.5; the threshold moves with half the band
    gap and half the surface potential (about −1 mV/K for an n channel). `sign` −1: p channel,
    `vto25` with SPICE's sign.
    """
    kelvin = np.asarray(celsius, dtype=np.float64) + ZERO_CELSIUS
    nominal = np.asarray(NOMINAL_CELSIUS + ZERO_CELSIUS)
    ratio = kelvin / nominal
    phi = ratio * (0.6 - _potential(nominal)) + _potential(kelvin)
    shift = 0.5 * (_bandgap(nominal) - _bandgap(kelvin)) + sign * 0.5 * (phi - 0.6)
    return np.asarray(vto25) + shift, np.asarray(kp25) / ratio**1.5


def channel_law(vgs: FloatLike, vds: FloatLike, vto: FloatLike,
                kp: FloatLike) -> tuple[Floats, Floats, Floats]:
    """Current [A] from drain to source of an n channel, with its slopes by vgs and by vds [S].

    Shichman–Hodges, W = L, λ = 0, γ = 0: with u = vgs − vto > 0, kp·vds·(u − vds/2) up to
    vds = u, then kp·u²/2. For vds < 0 drain and source change roles. For a p channel pass
    −vgs, −vds, −vto and negate the current (the slopes keep their sign).
    """
    vgs, vds, vto, kp = (np.asarray(x, dtype=np.float64) for x in (vgs, vds, vto, kp))
    reverse = vds < 0.0
    across = np.abs(vds)
    over = np.maximum(vgs - np.minimum(vds, 0.0) - vto, 0.0)
    held = np.minimum(across, over)
    current = kp * held * (over - 0.5 * held)
    by_gate = kp * held
    by_drain = kp * (over - held)
    sign = np.where(reverse, -1.0, 1.0)
    # reverse: i = −f(vgs − vds, −vds), hence di/dvgs = −f1 and di/dvds = f1 + f2
    return sign * current, sign * by_gate, np.where(reverse, by_gate + by_drain, by_drain)


def resistance_at(ohms25: FloatLike, celsius: FloatLike, ntc_beta: FloatLike = 0.0,
                  tempco: FloatLike = 0.0) -> Floats:
    """Resistance [Ω] at `celsius` from that at 25 °C.

    Thermistor law exp(B·(1/T − 1/T25)), `ntc_beta` B in kelvin (IEC 60539-1, from memory), times
    1 + `tempco`·(T − T25), `tempco` in 1/K.
    """
    kelvin = np.asarray(celsius, dtype=np.float64) + ZERO_CELSIUS
    nominal = NOMINAL_CELSIUS + ZERO_CELSIUS
    bend = np.exp(np.asarray(ntc_beta) * (1.0 / kelvin - 1.0 / nominal))
    drift = 1.0 + np.asarray(tempco) * (kelvin - nominal)
    scaled: Floats = np.asarray(ohms25, dtype=np.float64) * bend * drift
    return scaled
