# mypy: ignore-errors
"""Random numbers that depend on (seed, draw, item) alone, and the hours of all tasks of a draw, compiled.

What an item gets is the same in any chunk, thread or process, and stays the same when other items come and
go. numba keeps compiled code by the date of the file that asked for it: touch `risk_compiled.py` as well when
this one changes.
"""

from __future__ import annotations

import math

import numpy as np
from llvmlite import ir
from numba import njit, types
from numba.extending import intrinsic

U = np.uint64
F = np.float32
I = np.int32  # noqa: E741
MOST_HOURS = F(1e6)


@intrinsic
def _float_of(context, bits):
    """The 32-bit float that these 32 bits are."""
    return types.float32(types.int32), lambda ctx, b, sig, args: b.bitcast(args[0], ir.FloatType())


@intrinsic
def _bits_of(context, value):
    """The 32 bits that this float is."""
    return types.int32(types.float32), lambda ctx, b, sig, args: b.bitcast(args[0], ir.IntType(32))


@intrinsic
def lowest_bit(context, word):
    """Position of the lowest set bit of a non-zero word."""

    def build(ctx, builder, signature, args):
        return builder.cttz(args[0], ir.Constant(ir.IntType(1), 0))

    return types.uint64(types.uint64), build


@njit(cache=True, inline="always")
def mixed(state):
    """SplitMix64's finisher (Steele, Lea and Flood, OOPSLA 2014): 64 bits, each hanging on each of the state's."""
    z = (state ^ (state >> U(30))) * U(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> U(27))) * U(0x94D049BB133111EB)
    return z ^ (z >> U(31))


@njit(cache=True, inline="always")
def stream(seed, draw):
    """Where the numbers of one draw begin: two rounds, since seeds and draws are small neighbouring numbers."""
    return mixed(mixed(seed ^ (draw * U(0x9E3779B97F4A7C15))) + U(0x9E3779B97F4A7C15))


@njit(cache=True, inline="always")
def uniform_of(key, item):
    """A number in the open interval (0, 1): `key` is a draw's `stream`."""
    return ((mixed(key + item * U(0xD1B54A32D192ED03)) >> U(12)) + 0.5) * (1.0 / 4503599627370496.0)


@njit(cache=True)
def quantile(p):
    """The standard normal quantile: Wichura, algorithm AS 241, Applied Statistics 37 (1988), PPND7."""
    q = p - 0.5
    if abs(q) <= 0.425:
        r = 0.180625 - q * q
        return (
            q
            * (((5.9109374720e1 * r + 1.5929113202e2) * r + 5.0434271938e1) * r + 3.3871327179)
            / (((6.7187563600e1 * r + 7.8757757664e1) * r + 1.7895169469e1) * r + 1.0)
        )
    r = p if q < 0.0 else 1.0 - p
    r = math.sqrt(-math.log(r))
    if r <= 5.0:
        r -= 1.6
        z = (((1.7023821103e-1 * r + 1.3067284816) * r + 2.7568153900) * r + 1.4234372777) / (
            (1.2021132975e-1 * r + 7.3700164250e-1) * r + 1.0
        )
    else:
        r -= 5.0
        z = (((1.7337203997e-2 * r + 4.2868294337e-1) * r + 3.0812263860) * r + 6.6579051150) / (
            (1.2258202635e-2 * r + 2.4197894225e-1) * r + 1.0
        )
    return -z if q < 0.0 else z


@njit(cache=True, inline="always")
def normal_of(key, item):
    return quantile(uniform_of(key, item))


@njit(cache=True)
def normal(seed, draw, item):
    """A standard normal number."""
    return normal_of(stream(seed, draw), item)


@njit(cache=True)
def hours_drawn(key, item, log2_mean, log2_sd, work, out):
    """Hundredths of an hour of each task: 2^(mean + sd z) hours, z standard normal. Returns their sum.

    In passes over all tasks that the compiler turns into vector instructions, in 32-bit floats. The quantile
    is a pair of our own least-squares fits in w = -ln 4u(1-u), the second one (from 5.8 sigma-squared on) in
    the square root of w; against Wichura's AS 241 it is good to 3 millionths.

    Args:
        key: The draw's `stream`.
        item: Name number of each task, times the odd number that `uniform_of` takes.
        log2_mean: Logarithm to base 2 of the middle hours.
        log2_sd: Its standard deviation.
        work: Room, whole numbers of 32 bits.
        out: What is drawn.
    """
    n = item.shape[0]
    for i in range(n):
        work[i] = I(mixed(key + item[i]) >> U(33))
    for i in range(n):
        # 31 bits: the top one is the side, the rest the distance from the nearer end.
        k = work[i]
        side = k >> I(30)
        m = (k ^ -side) & I(0x3FFFFFFF)
        p = (F(m) + F(0.5)) * F(2.0**-31)
        v = F(4.0) * p * (F(1.0) - p)
        b = _bits_of(v)
        e = (b - I(0x3F3504F3)) & I(-0x800000)
        t = _float_of(b - e) - F(1.0)
        ln = F(-0.10134056955575943)
        ln = ln * t + F(0.1623418927192688)
        ln = ln * t + F(-0.17247013747692108)
        ln = ln * t + F(0.19898565113544464)
        ln = ln * t + F(-0.24970071017742157)
        ln = ln * t + F(0.33335113525390625)
        ln = ln * t + F(-0.5000036358833313)
        ln = ln * t + F(0.9999999403953552)
        w = -(F(e) * F(8.262958405176314e-08) + ln * t)
        s = w - F(3.0)
        z = F(4.4676838228951965e-07)
        z = z * s + F(-2.819984729285352e-06)
        z = z * s + F(-1.6459127436974086e-05)
        z = z * s + F(0.0002776490000542253)
        z = z * s + F(-0.0011870439630001783)
        z = z * s + F(-0.008118586614727974)
        z = z * s + F(0.34172049164772034)
        z = z * s + F(2.2960364818573)
        r = F(math.sqrt(max(w, F(0.0)))) - F(3.5)
        y = F(0.0005258306046016514)
        y = y * r + F(-0.0014944487484171987)
        y = y * r + F(0.0017985138110816479)
        y = y * r + F(-0.0026431302540004253)
        y = y * r + F(0.004535210784524679)
        y = y * r + F(1.424595594406128)
        y = y * r + F(4.7170939445495605)
        z = (z if w < F(6.5) else y) * (F(1.0) - F(2.0) * p)
        z = z if side != I(0) else -z
        x = min(max(log2_mean[i] + log2_sd[i] * z, F(-20.0)), F(19.9))
        a = x + F(12582912.0)
        f = x - (a - F(12582912.0))
        g = F(0.0013266970636323094)
        g = g * f + F(0.009675459936261177)
        g = g * f + F(0.05550742521882057)
        g = g * f + F(0.24022121727466583)
        g = g * f + F(0.6931469440460205)
        g = g * f + F(1.0000001192092896)
        g = _float_of(_bits_of(g) + (_bits_of(a) << I(23)))
        out[i] = I(g * F(100.0) + F(0.5))
    total = 0
    for i in range(n):
        total += out[i]
    return total


@njit(cache=True, _nrt=False)
def begun_hours(key, ident, mean, sd, spent, some, out):
    """For tasks with hours logged: what is left, given that it takes longer than what was spent. Returns by how
    much that changes the sum."""
    change = 0
    for k in range(some.shape[0]):
        i = some[k]
        p = 0.0
        if sd[i] > 0.0:
            p = 0.5 * math.erfc(-(math.log(spent[i]) - mean[i]) / (sd[i] * 1.4142135623730951))
        elif math.exp(mean[i]) < spent[i]:
            p = 1.0
        p = min(p, 0.999999)
        x = p + (1.0 - p) * uniform_of(key, ident[i])
        x = max(0.01, math.exp(mean[i] + sd[i] * quantile(x)) - spent[i])
        d = np.int64(min(x, 1e6) * 100.0 + 0.5)
        change += d - out[i]
        out[i] = d
    return change
