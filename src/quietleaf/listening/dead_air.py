"""Dead air: silence inside a reading that is longer than anybody pauses."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quietleaf.listening.findings import Finding
from quietleaf.listening.limits import HearingLimits


def dead_air_findings(pauses_s: NDArray[np.float64], limits: HearingLimits) -> list[Finding]:
    """Turn long pauses into findings.

    Parameters
    ----------
    pauses_s : ndarray, shape (j, 2), seconds

    Returns
    -------
    findings : list of Finding
        Kind ``dead-air``: ``fix`` beyond the limit of dead air, ``note`` beyond that of a long
        pause. Head and tail are none: they are trimmed.

    Examples
    --------
    >>> found = dead_air_findings(np.array([[10.0, 10.8], [20.0, 26.5]]), HearingLimits())
    >>> [(finding.start_s, finding.value, finding.severity) for finding in found]
    [(20.0, 6.5, 'fix')]
    """
    return [
        _finding(float(start_s), float(end_s), limits)
        for start_s, end_s in pauses_s
        if end_s - start_s > min(limits.long_pause_s, limits.dead_air_s)
    ]


def _finding(start_s: float, end_s: float, limits: HearingLimits) -> Finding:
    dead = end_s - start_s > limits.dead_air_s
    return Finding(
        kind="dead-air",
        start_s=start_s,
        end_s=end_s,
        severity="fix" if dead else "note",
        value=end_s - start_s,
        limit=limits.dead_air_s if dead else limits.long_pause_s,
        unit="s",
        advice="Nobody speaks here for longer than listeners wait. The pause can be shortened."
        if dead
        else "A long pause. Nothing to do if a page was turned or a new article begins.",
    )
