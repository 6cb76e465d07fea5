"""What must drive the ports of a base for a state's changes: one small system of equations per state.

With R the base's response of the ports' senses to their drives, q what they sense in the base, and a change of admittance
written α x = β s (see ``base``), the drives x that make up for all changes together follow from

    s = q + R x        (α − β R) x = β q

which is the Woodbury identity in a form that opens a wire as exactly as it closes a contact. Every state's x is put back into
these equations; where they do not close, or where they were close to singular, too many digits were lost.

References
----------
W. W. Hager, "Updating the inverse of a matrix", SIAM Review 31 (1989), for the identity (from memory).
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from callpath.circuit.base import Pool
from callpath.circuit.exact import Complex

__all__ = ["Bools", "Ints", "port_drives"]

Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

# How much of its terms a determinant, and the base's own responses in it, must have left: five digits may be lost.
_LEAST_LEFT = 1e-5
# What may be left over when the drives are put back, as a part of the largest term.
_MOST_LEFT_OVER = 1e-10


def port_drives(
    pool: Pool, base: Ints, emf: Complex, ports: Ints, asked: Complex, listed: Bools
) -> tuple[Complex, Bools]:
    """Return the drives that make up for the changes of many states.

    Parameters
    ----------
    pool : Pool
        The bases.
    base : (states,) int
        The base of every state.
    emf : (states, sources) complex
        EMF of every source [V RMS].
    ports : (states, changes) int
        Where the base is changed.
    asked : (states, changes) complex
        The admittance there [S].
    listed : (states, changes) bool
        False where a state has fewer changes.

    Returns
    -------
    (states, changes) complex, (states,) bool
        The drives [V or A], and which states lost too many digits.
    """
    states, count = ports.shape
    if count == 0:
        return np.zeros((states, 0), complex), np.zeros(states, bool)
    at = ports + (base * (len(pool.siemens) // len(pool.row)))[:, None]
    closed = pool.siemens[at] != 0
    alpha = np.where(closed & listed, asked, 1.0)
    beta = np.where(closed, 1 - asked * pool.ohms[at], asked) * listed
    pushed = np.zeros((states, count), complex)
    for s in range(emf.shape[1]):
        pushed += emf[:, s, None] * pool.feed[base[:, None], s, ports]
    pushed *= beta
    solve = _two if count == 2 else _any_number
    drives, over, terms, kept = solve(pool.response, at, ports, alpha, beta, pushed)
    kept = kept * pool.left[at].min(axis=1)
    with np.errstate(invalid="ignore"):
        lost = ~(kept > _LEAST_LEFT) | ~(over <= _MOST_LEFT_OVER * terms).all(axis=1)
    if lost.any():
        drives[lost] = 0
    return drives, lost


_Answer = tuple[Complex, NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]


def _two(response: Complex, at: Ints, ports: Ints, alpha: Complex, beta: Complex, pushed: Complex) -> _Answer:
    """Solve for two drives per state; return them, what each row leaves over, its terms' size, and what the pivot has left."""
    (p, q), (alpha_p, alpha_q), (beta_p, beta_q), (pushed_p, pushed_q) = ports.T, alpha.T, beta.T, pushed.T
    drive_p, drive_q = at.T
    itself_p, itself_q = beta_p * response[drive_p, p], beta_q * response[drive_q, q]
    a, b = alpha_p - itself_p, -beta_p * response[drive_q, p]
    c, d = -beta_q * response[drive_p, q], alpha_q - itself_q
    pivot = a * d - b * c
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        x, y = (d * pushed_p - b * pushed_q) / pivot, (a * pushed_q - c * pushed_p) / pivot
        kept = _size(pivot) / ((_size(alpha_p) + _size(itself_p)) * (_size(alpha_q) + _size(itself_q)))
        over = np.stack([_size(a * x + b * y - pushed_p), _size(c * x + d * y - pushed_q)], axis=1)
        size_x, size_y = _size(x), _size(y)
        terms = np.stack(
            [
                _size(a) * size_x + _size(b) * size_y + _size(pushed_p),
                _size(c) * size_x + _size(d) * size_y + _size(pushed_q),
            ],
            axis=1,
        )
    return np.stack([x, y], axis=1), over, terms, kept


def _any_number(response: Complex, at: Ints, ports: Ints, alpha: Complex, beta: Complex, pushed: Complex) -> _Answer:
    """Do the same for any number of drives per state."""
    count = ports.shape[1]
    itself = response[at, ports]
    system = -beta[:, :, None] * response[at[:, None, :], ports[:, :, None]]
    own_terms = _size(beta * itself) + _size(alpha)
    for j in range(count):
        system[:, j, j] += alpha[:, j]
    # Siemens stand beside ohms, and volts beside amps; each is put on the scale of its own port, where no response of a
    # passive network to another port is larger than the two ports' responses to themselves.
    unit = 1 / np.sqrt(np.where(itself == 0, 1.0, _size(itself)))
    system *= unit[:, None, :] / (own_terms * unit)[:, :, None]
    pushed = pushed / (own_terms * unit)
    asides = np.concatenate([pushed[:, :, None], np.broadcast_to(np.eye(count), system.shape)], axis=2)
    try:
        answers = np.linalg.solve(system, asides)
    except np.linalg.LinAlgError:
        answers = np.full(asides.shape, np.nan, complex)
    # What is not changed is not driven, not even by the rounding of the others.
    drives: Complex = np.where(beta == 0, 0j, answers[:, :, 0])
    with np.errstate(divide="ignore", invalid="ignore"):
        kept = 1 / _size(answers[:, :, 1:]).max(axis=(1, 2))
        over = _size((system @ drives[:, :, None])[:, :, 0] - pushed)
        terms = (_size(system) * _size(drives)[:, None, :]).sum(axis=2) + _size(pushed)
    return drives * unit, over, terms, kept


def _size(numbers: NDArray[np.complexfloating[Any, Any]]) -> NDArray[np.float64]:
    """Return |re| + |im|, which is the magnitude to within a factor √2 and quicker."""
    size: NDArray[np.float64] = np.abs(numbers.real) + np.abs(numbers.imag)
    return size
