"""What a run says about nights on which the sun passes the threshold by little, or not at all."""

from __future__ import annotations

import numpy as np

from ..numbers.shallow import judged_nights
from ..trade.basis import Basis

# What is proposed where every night is judged [degree].
_PROPOSED_DEG = 1.0


def shallow_note(sites, basis: Basis) -> tuple[str, ...]:
    """What is judged where the sun passes the threshold by little, said where there are such nights.

    Parameters
    ----------
    sites : DataFrame
        With site_id, lat_deg, solar_lon_deg.
    basis : Basis
    """
    given_deg = basis.tolerance.shallow_deg
    depth = given_deg or _PROPOSED_DEG
    lat, lon = sites["lat_deg"].to_numpy(float), sites["solar_lon_deg"].to_numpy(float)
    # A night not judged at one latitude is not judged nearer the pole either: the outermost sites have the most.
    ends = [int(np.argmin(lat)), int(np.argmax(lat))]
    left_out = (~judged_nights(lat[ends], lon[ends], basis.year, basis.altitude_deg, depth)).sum(axis=1)
    if not left_out.any():
        return ()
    worst = int(np.argmax(left_out))
    where = f"up to {left_out[worst]} nights at {sites['site_id'].iloc[ends[worst]]}"
    degrees = f"{depth:g} degree{'' if depth == 1 else 's'}"
    if given_deg:
        return (f"Nights on which the sun passes the threshold by less than {degrees} at a site, or not at all, are not judged "
                f"there: {where}. Their minutes are in the year's sums and are said apart.",)
    return (f"On some nights the sun passes the threshold by less than {degrees}, or not at all ({where}). Every night is judged; "
            f"[tolerance] shallow_deg = {depth:.1f} leaves these out.",)
