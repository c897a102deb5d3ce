"""Is it in order? Each rule is a small pure function; `registry.evaluate` asks them all.

A second person may except a block whose fact can no longer be changed (ML-02, OC-01) or may stand on other papers (SL-07, CL-13).
What is cured by saying what is missing (ML-01) is not excepted, and a question of identity (CL-01) never is.
"""

from bailee.rules import binding as binding
from bailee.rules import blanks as blanks
from bailee.rules import clocks as clocks
from bailee.rules import comparing as comparing
from bailee.rules import continuity as continuity
from bailee.rules import copies as copies
from bailee.rules import decisions as decisions
from bailee.rules import dock as dock
from bailee.rules import identity as identity
from bailee.rules import labels as labels
from bailee.rules import links as links
from bailee.rules import location as location
from bailee.rules import media as media
from bailee.rules import metering as metering
from bailee.rules import outdoor as outdoor
from bailee.rules import packing as packing
from bailee.rules import people as people
from bailee.rules import preparing as preparing
from bailee.rules import pump as pump
from bailee.rules import receiving as receiving
from bailee.rules import runs as runs
from bailee.rules import sealing as sealing
from bailee.rules import securing as securing
from bailee.rules import shipping as shipping
from bailee.rules import stock as stock
from bailee.rules import surroundings as surroundings
from bailee.rules import under_way as under_way
from bailee.rules import visit as visit
