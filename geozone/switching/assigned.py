"""Who runs what: the programme and the setting of every site's switch."""

from __future__ import annotations

from dataclasses import dataclass, field

import pandas as pd

from ..trade.programme import Programme
from ..trade.setting import Setting


@dataclass(frozen=True, eq=False)
class Assigned:
    """The programmes and settings of a plan, given to its sites.

    Attributes
    ----------
    programmes : tuple of Programme
    programme_of : pandas.Series of str or None
        Name of each site's programme; None: the first for all.
    settings : dict of str to Setting
        What is keyed, by label.
    setting_of : pandas.Series of str or None
        Each site's label in `settings`.
    shared : Setting or None
        The one shared setting, to compare with.
    groups : bool
        Whether the labels are a plan's groups.
    """

    programmes: tuple[Programme, ...]
    programme_of: pd.Series | None = None
    settings: dict[str, Setting] = field(default_factory=dict)
    setting_of: pd.Series | None = None
    shared: Setting | None = None
    groups: bool = False
