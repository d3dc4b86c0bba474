"""What is checked on the site before and while the goods are laid, and what to beware of.

Judgement is by limits that the makers state; where they state none and the trade has a habit, that is taken and marked
as common practice; where there is none either, no limit is invented.
"""

from nesting.site.hazards import Caution, cautions
from nesting.site.judging import SiteWarning, Verdict, site_warnings
from nesting.site.sheet import MaterialSheet, SiteSheet, site_sheet

__all__ = ["Caution", "MaterialSheet", "SiteSheet", "SiteWarning", "Verdict", "cautions", "site_sheet", "site_warnings"]
