"""The shop's rack: every roll and remnant in hand, in an SQLite file or a PostgreSQL database, with its whole history.

`open_rack` opens one; `Rack` has everything that can be done with it. Every change is one transaction: pieces,
reservations and history together, or nothing.
"""

from nesting.shop.rack import Rack, open_rack

__all__ = ["Rack", "open_rack"]
