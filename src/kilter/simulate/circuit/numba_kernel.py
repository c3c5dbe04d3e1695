"""
The loops of the compiled path; numba is an optional extra, and only `numba_lanes` imports this, late.

Arrays have the lanes of one block last. Models and limits are those of numpy_lanes.
"""

# mypy: ignore-errors
# The compiler, not Python, gives these functions their types.

from __future__ import annotations

from math import log, sqrt

import numpy as np
from numba import njit

JIT = {"cache": True, "nogil": True, "fastmath": {"contract", "arcp", "nsz"}, "error_model": "numpy"}
LANES = 16
"""Lanes side by side: known when compiling, so that the short loops over them need no counting."""
STEEP = 150.0
"""Largest exponent; the same as in numpy_lanes."""
MOST_AMPERES = 1e4
"""Largest junction current; the same as in numpy_lanes. [A]"""
SAME_V = 1e-10
"""A junction whose voltage has moved less than this is not evaluated again. [V]"""


@njit(**JIT)
def limit(wanted, last, vt, saturation):
    """The voltage to evaluate a junction at, and whether it was held back."""
    if saturation <= 0.0:
        return wanted, False
    critical = vt * log(vt / (1.4142135623730951 * saturation))
    held, leap = wanted, wanted > critical and abs(wanted - last) > 2.0 * vt
    if leap:
        held = critical
        grow = 1.0 + (wanted - last) / vt
        if last > 0.0:
            held = last + vt * log(grow) if grow > 0.0 else critical
        elif wanted > 0.0:
            held = vt * log(wanted / vt)
    ceiling = vt * log(MOST_AMPERES / saturation)
    if held > ceiling:
        return ceiling, True
    return held, leap


@njit(**JIT)
def exponentials(argument, result, scratch):
    """
    exp of every lane, within 2e-15 of exact for arguments from -700 to STEEP; the loops hold no branch or call, so
    that the compiler can run them in vector registers.

    Method: exp(x) = 2**k * exp(r) with |r| <= ln(2)/2, k read from the low bits of x/ln(2) + 1.5*2**52, exp(r) by its
    Taylor series to the thirteenth power.
    """
    bits = scratch.view(np.int64)
    for lane in range(LANES):
        x = min(max(argument[lane], -700.0), STEEP)
        shifted = x * 1.4426950408889634 + 6755399441055744.0
        scratch[lane] = shifted
        k = shifted - 6755399441055744.0
        r = x - k * 0.6931471803691238
        r = r - k * 1.9082149292705877e-10
        high = 1.0 / 39916800 + r * (1.0 / 479001600 + r * (1.0 / 6227020800))
        mid = 1.0 / 5040 + r * (1.0 / 40320 + r * (1.0 / 362880 + r * (1.0 / 3628800 + r * high)))
        result[lane] = 1.0 + r * (
            1.0 + r * (0.5 + r * (1.0 / 6 + r * (1.0 / 24 + r * (1.0 / 120 + r * (1.0 / 720 + r * mid)))))
        )
    for lane in range(LANES):
        bits[lane] = (bits[lane] << 52) + (1023 << 52)
    for lane in range(LANES):
        result[lane] *= scratch[lane]


@njit(**JIT)
def diode(number, places, vt, parameter, known, volts, table, shunt, limited, work, fresh):
    """Evaluate one diode: its table rows are voltage, current and conductance."""
    saturation, one_ampere = known[parameter[number]], known[parameter[number] + 1]
    a, k = volts[places[number, 0]], volts[places[number, 1]]
    value, current, slope = table[number]
    size = vt[number]
    leap, breaks = fresh, False
    for lane in range(LANES):
        work[2, lane] = a[lane] - k[lane]
        leap |= abs(work[2, lane] - value[lane]) > 2.0 * size
        breaks |= work[2, lane] + one_ampere[lane] < 40.0 * size
    for lane in range(LANES):
        if not leap:
            value[lane] = work[2, lane]
        elif work[2, lane] + one_ampere[lane] < 30.0 * size:
            held, was = limit(-(work[2, lane] + one_ampere[lane]), -(value[lane] + one_ampere[lane]), size, 1.0)
            value[lane] = -held - one_ampere[lane]
            limited[lane] |= was
        else:
            value[lane], was = limit(work[2, lane], value[lane], size, saturation[lane])
            limited[lane] |= was
    for lane in range(LANES):
        work[0, lane] = value[lane] / size
    exponentials(work[0], work[1], work[4])
    work[3] = 0.0
    if breaks:
        for lane in range(LANES):
            work[2, lane] = max(-(value[lane] + one_ampere[lane]) / size, -700.0)
        exponentials(work[2], work[3], work[4])
    for lane in range(LANES):
        forward = saturation[lane] * work[1, lane]
        current[lane] = forward - saturation[lane] - work[3, lane] + shunt * value[lane]
        slope[lane] = (forward + work[3, lane]) / size + shunt


@njit(**JIT)
def transistor(number, places, numbers, parameter, known, volts, table, shunt, limited, work, fresh):
    """Evaluate one transistor: its table rows are vbe, vbc, ic, ib, ic/be, ic/bc, ib/be and ib/bc."""
    first = parameter[number]
    transport, forward, reverse = known[first], known[first + 1], known[first + 2]
    polarity, vtf, vtr, early, late, knee_f, knee_r = numbers[number]
    c, b, e = volts[places[number, 0]], volts[places[number, 1]], volts[places[number, 2]]
    vbe, vbc, ic, ib, ic_be, ic_bc, ib_be, ib_bc = table[number]
    leap = fresh
    for lane in range(LANES):
        work[0, lane], work[2, lane] = polarity * (b[lane] - e[lane]), polarity * (b[lane] - c[lane])
        leap |= abs(work[0, lane] - vbe[lane]) > 2.0 * vtf or abs(work[2, lane] - vbc[lane]) > 2.0 * vtr
    if leap:
        for lane in range(LANES):
            work[0, lane], was = limit(work[0, lane], vbe[lane], vtf, max(transport[lane], forward[lane]))
            work[2, lane], too = limit(work[2, lane], vbc[lane], vtr, max(transport[lane], reverse[lane]))
            limited[lane] |= was or too
    for lane in range(LANES):
        vbe[lane], vbc[lane] = work[0, lane], work[2, lane]
        work[0, lane], work[2, lane] = vbe[lane] / vtf, vbc[lane] / vtr
    exponentials(work[0], work[1], work[4])
    exponentials(work[2], work[3], work[4])
    for lane in range(LANES):
        ef, er = work[1, lane], work[3, lane]
        root = sqrt(1.0 + 4.0 * transport[lane] * max((ef - 1.0) * knee_f + (er - 1.0) * knee_r, 0.0))
        level = 2.0 / (1.0 + root)
        width = (1.0 - vbc[lane] * early - vbe[lane] * late) * level
        net = transport[lane] * (ef - er)
        squeeze = -2.0 * net * width / (root * (1.0 + root))
        slope_c = reverse[lane] * er / vtr + shunt
        base_c = reverse[lane] * (er - 1.0) + shunt * vbc[lane]
        ic[lane] = net * width - base_c
        ib[lane] = forward[lane] * (ef - 1.0) + shunt * vbe[lane] + base_c
        ic_be[lane] = transport[lane] * ef / vtf * (width + squeeze * knee_f) - net * late * level
        ic_bc[lane] = transport[lane] * er / vtr * (squeeze * knee_r - width) - net * early * level - slope_c
        ib_be[lane] = forward[lane] * ef / vtf + shunt
        ib_bc[lane] = slope_c


@njit(**JIT)
def evaluate(
    diodes, dvt, dparam, trans, tnum, tparam, known, volts, dtable, ttable, fresh_d, fresh_t, shunt, limited, work
):  # fmt: skip
    """Evaluate the junctions that moved in any lane or are marked fresh; note the lanes in which one was limited."""
    limited[:] = False
    for number in range(diodes.shape[0]):
        stale = fresh_d[number]
        if not stale:
            a, k = volts[diodes[number, 0]], volts[diodes[number, 1]]
            last = dtable[number, 0]
            worst = 0.0
            for lane in range(LANES):
                worst = max(worst, abs(a[lane] - k[lane] - last[lane]))
            stale = worst > SAME_V
        if stale:
            diode(number, diodes, dvt, dparam, known, volts, dtable, shunt, limited, work, fresh_d[number])
    for number in range(trans.shape[0]):
        stale = fresh_t[number]
        if not stale:
            c, b, e = volts[trans[number, 0]], volts[trans[number, 1]], volts[trans[number, 2]]
            vbe, vbc, polarity = ttable[number, 0], ttable[number, 1], tnum[number, 0]
            worst = 0.0
            for lane in range(LANES):
                worst = max(worst, abs(polarity * (b[lane] - e[lane]) - vbe[lane]))
                worst = max(worst, abs(polarity * (b[lane] - c[lane]) - vbc[lane]))
            stale = worst > SAME_V
        if stale:
            transistor(number, trans, tnum, tparam, known, volts, ttable, shunt, limited, work, fresh_t[number])


@njit(**JIT)
def stamp(drows, dslots, dtable, trows, tslots, tnum, ttable, matrix, sources):
    """Add the linearised junctions to matrix and sources."""
    for number in range(drows.shape[0]):
        value, current, slope = dtable[number, 0], dtable[number, 1], dtable[number, 2]
        aa, ak = matrix[dslots[number, 0]], matrix[dslots[number, 1]]
        ka, kk = matrix[dslots[number, 2]], matrix[dslots[number, 3]]
        at, kt = sources[drows[number, 0]], sources[drows[number, 1]]
        for lane in range(LANES):
            g = slope[lane]
            aa[lane] += g
            ak[lane] -= g
            ka[lane] -= g
            kk[lane] += g
            constant = current[lane] - g * value[lane]
            at[lane] -= constant
            kt[lane] += constant
    for number in range(trows.shape[0]):
        polarity = tnum[number, 0]
        row = ttable[number]
        slots = tslots[number]
        ct, bt, et = sources[trows[number, 0]], sources[trows[number, 1]], sources[trows[number, 2]]
        cc, cb, ce = matrix[slots[0]], matrix[slots[1]], matrix[slots[2]]
        bc, bb, be = matrix[slots[3]], matrix[slots[4]], matrix[slots[5]]
        ec, eb, ee = matrix[slots[6]], matrix[slots[7]], matrix[slots[8]]
        for lane in range(LANES):
            c_be, c_bc, b_be, b_bc = row[4, lane], row[5, lane], row[6, lane], row[7, lane]
            cc[lane] -= c_bc
            cb[lane] += c_be + c_bc
            ce[lane] -= c_be
            bc[lane] -= b_bc
            bb[lane] += b_be + b_bc
            be[lane] -= b_be
            ec[lane] += c_bc + b_bc
            eb[lane] -= c_be + c_bc + b_be + b_bc
            ee[lane] += c_be + b_be
            in_c = polarity * (row[2, lane] - c_be * row[0, lane] - c_bc * row[1, lane])
            in_b = polarity * (row[3, lane] - b_be * row[0, lane] - b_bc * row[1, lane])
            ct[lane] -= in_c
            bt[lane] -= in_b
            et[lane] += in_c + in_b


@njit(**JIT)
def solve(pivot, lstart, lslot, lrow, ustart, uslot, ucolumn, target, matrix, sources):
    """LU and both triangular solves in place; the diagonal is left inverted."""
    size = pivot.shape[0]
    factor = np.empty(LANES)
    step = 0
    for k in range(size):
        first, last = ustart[k], ustart[k + 1]
        width = last - first
        diagonal, here = matrix[pivot[k]], sources[k]
        for lane in range(LANES):
            diagonal[lane] = 1.0 / diagonal[lane]
        for entry in range(lstart[k], lstart[k + 1]):
            below, there = matrix[lslot[entry]], sources[lrow[entry]]
            for lane in range(LANES):
                factor[lane] = below[lane] * diagonal[lane]
                there[lane] -= factor[lane] * here[lane]
            for column in range(width):
                above, into = matrix[uslot[first + column]], matrix[target[step + column]]
                for lane in range(LANES):
                    into[lane] -= factor[lane] * above[lane]
            step += width
    for k in range(size - 1, -1, -1):
        here, diagonal = sources[k], matrix[pivot[k]]
        for entry in range(ustart[k], ustart[k + 1]):
            above, known = matrix[uslot[entry]], sources[ucolumn[entry]]
            for lane in range(LANES):
                here[lane] -= above[lane] * known[lane]
        for lane in range(LANES):
            here[lane] *= diagonal[lane]


@njit(**JIT)
def step_sizes(volts, new, limited, settled_v, worst):
    """Take the step; `worst` is its size per lane, 1 being settled. True when no lane needs another."""
    for lane in range(LANES):
        worst[lane] = 2.0 if limited[lane] else 0.0
    for row in range(volts.shape[0]):
        old, now = volts[row], new[row]
        for lane in range(LANES):
            size = abs(now[lane] - old[lane]) / (settled_v + 1e-6 * abs(now[lane]))
            worst[lane] = size if size > worst[lane] or size != size else worst[lane]  # NaN stays
            old[lane] = now[lane]
    going = False
    for lane in range(LANES):
        going |= worst[lane] >= 1.0
    return not going


@njit(**JIT)
def residual(eslot, erow, ecolumn, drows, dtable, trows, tnum, ttable, matrix, sources, volts, total, size):
    """Sum of the currents at every net, and of their sizes; `matrix` is the linear part."""
    for row in range(total.shape[0]):
        for lane in range(LANES):
            total[row, lane] = -sources[row, lane]
            size[row, lane] = abs(sources[row, lane])
    for entry in range(eslot.shape[0]):
        value, known, row = matrix[eslot[entry]], volts[ecolumn[entry]], erow[entry]
        for lane in range(LANES):
            flow = value[lane] * known[lane]
            total[row, lane] += flow
            size[row, lane] += abs(flow)
    for number in range(drows.shape[0]):
        for lane in range(LANES):
            flow = dtable[number, 1, lane]
            total[drows[number, 0], lane] += flow
            total[drows[number, 1], lane] -= flow
            size[drows[number, 0], lane] += abs(flow)
            size[drows[number, 1], lane] += abs(flow)
    for number in range(trows.shape[0]):
        for lane in range(LANES):
            ic, ib = tnum[number, 0] * ttable[number, 2, lane], tnum[number, 0] * ttable[number, 3, lane]
            total[trows[number, 0], lane] += ic
            total[trows[number, 1], lane] += ib
            total[trows[number, 2], lane] -= ic + ib
            size[trows[number, 0], lane] += abs(ic)
            size[trows[number, 1], lane] += abs(ib)
            size[trows[number, 2], lane] += abs(ic + ib)


@njit(**JIT)
def change(number, new, known, mstart, mplace, msign, sstart, splace, ssign, matrix, sources):
    """Move one parameter of a block to new values and correct matrix and sources."""
    old = known[number]
    for stamp_number in range(mstart[number], mstart[number + 1]):
        row, sign = matrix[mplace[stamp_number]], msign[stamp_number]
        for lane in range(LANES):
            row[lane] += sign * (new[lane] - old[lane])
    for stamp_number in range(sstart[number], sstart[number + 1]):
        row, sign = sources[splace[stamp_number]], ssign[stamp_number]
        for lane in range(LANES):
            row[lane] += sign * (new[lane] - old[lane])
    for lane in range(LANES):
        old[lane] = new[lane]


@njit(**JIT)
def sweep(
    pivot, full, lean, needs_full,
    mstart, mplace, msign, sstart, splace, ssign,
    diodes, drows, dslots, dvt, dparam, trans, trows, tslots, tnum, tparam, eslot, erow, ecolumn,
    base, base_matrix, base_sources, start, counts, numbers, values, settings, out_volts, out_settled,
):  # fmt: skip
    """Every hypothesis on every block of samples; see numba_lanes.settle_all."""
    settled_v, most_steps, shunt, residual_a, residual_share = settings
    size, slots = pivot.shape[0], base_matrix.shape[0]
    linear, matrix = np.empty((slots, LANES)), np.empty((slots, LANES))
    fixed, sources = np.empty((size + 1, LANES)), np.empty((size + 1, LANES))
    volts, total, flow = np.empty((size + 1, LANES)), np.empty((size + 1, LANES)), np.empty((size + 1, LANES))
    dtable, ttable = np.empty((diodes.shape[0], 3, LANES)), np.empty((trans.shape[0], 8, LANES))
    limited, worst, work = np.empty(LANES, np.bool_), np.empty(LANES), np.zeros((5, LANES))
    fresh_d, fresh_t = np.empty(diodes.shape[0], np.bool_), np.empty(trans.shape[0], np.bool_)
    for first in range(0, base.shape[1], LANES):
        known, healthy = base[:, first : first + LANES].copy(), start[:, first : first + LANES].copy()
        block_matrix = base_matrix[:, first : first + LANES].copy()
        block_sources = base_sources[:, first : first + LANES].copy()
        warm_d, warm_t = np.zeros(dtable.shape), np.zeros(ttable.shape)
        for number in range(diodes.shape[0]):
            warm_d[number, 0] = healthy[diodes[number, 0]] - healthy[diodes[number, 1]]
        for number in range(trans.shape[0]):
            warm_t[number, 0] = tnum[number, 0] * (healthy[trans[number, 1]] - healthy[trans[number, 2]])
            warm_t[number, 1] = tnum[number, 0] * (healthy[trans[number, 1]] - healthy[trans[number, 0]])
        fresh_d[:], fresh_t[:] = True, True
        evaluate(
            diodes,
            dvt,
            dparam,
            trans,
            tnum,
            tparam,
            known,
            healthy,
            warm_d,
            warm_t,
            fresh_d,
            fresh_t,
            shunt,
            limited,
            work,
        )
        for hypothesis in range(counts.shape[0] - 1):
            linear[:], fixed[:], volts[:] = block_matrix, block_sources, healthy
            dtable[:], ttable[:] = warm_d, warm_t
            fresh_d[:], fresh_t[:] = False, False
            for place in range(counts[hypothesis], counts[hypothesis + 1]):
                number = numbers[place]
                change(
                    number, values[place, first : first + LANES], known,
                    mstart, mplace, msign, sstart, splace, ssign, linear, fixed,
                )  # fmt: skip
                for device in range(dparam.shape[0]):
                    fresh_d[device] |= 0 <= number - dparam[device] < 2
                for device in range(tparam.shape[0]):
                    fresh_t[device] |= 0 <= number - tparam[device] < 3
            for _ in range(int(most_steps)):
                evaluate(
                    diodes, dvt, dparam, trans, tnum, tparam, known, volts, dtable, ttable,
                    fresh_d, fresh_t, shunt, limited, work,
                )  # fmt: skip
                fresh_d[:], fresh_t[:] = False, False
                matrix[:], sources[:] = linear, fixed
                stamp(drows, dslots, dtable, trows, tslots, tnum, ttable, matrix, sources)
                if needs_full[hypothesis]:
                    solve(pivot, full[0], full[1], full[2], full[3], full[4], full[5], full[6], matrix, sources)
                else:
                    solve(pivot, lean[0], lean[1], lean[2], lean[3], lean[4], lean[5], lean[6], matrix, sources)
                sources[size] = 0.0
                if step_sizes(volts, sources, limited, settled_v, worst):
                    break
            evaluate(
                diodes, dvt, dparam, trans, tnum, tparam, known, volts, dtable, ttable,
                fresh_d, fresh_t, shunt, limited, work,
            )  # fmt: skip
            residual(eslot, erow, ecolumn, drows, dtable, trows, tnum, ttable, linear, fixed, volts, total, flow)
            for lane in range(LANES):
                passed = worst[lane] < 1.0
                for row in range(size):
                    passed &= abs(total[row, lane]) <= residual_a + residual_share * flow[row, lane]
                out_settled[hypothesis, first + lane] = passed
            out_volts[hypothesis, :, first : first + LANES] = volts
            for place in range(counts[hypothesis], counts[hypothesis + 1]):
                known[numbers[place]] = base[numbers[place], first : first + LANES]
