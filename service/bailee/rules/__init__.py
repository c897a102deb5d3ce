"""Is it in order? Each rule is a small pure function; `registry.evaluate` asks them all.

A second person may except a block whose fact can no longer be changed (ML-02, OC-01) or may stand on other
papers (SL-07, CL-13). What is cured by saying what is missing (ML-01) is not excepted, and a question of
identity (CL-01) never is.
"""

from bailee.rules.checks import blanks as blanks
from bailee.rules.checks import claims as claims
from bailee.rules.checks import clocks as clocks
from bailee.rules.checks import comparison as comparison
from bailee.rules.checks import custody as custody
from bailee.rules.checks import decisions as decisions
from bailee.rules.checks import flow as flow
from bailee.rules.checks import identity as identity
from bailee.rules.checks import in_hand as in_hand
from bailee.rules.checks import labels as labels
from bailee.rules.checks import late_entries as late_entries
from bailee.rules.checks import location as location
from bailee.rules.checks import media as media
from bailee.rules.checks import meter as meter
from bailee.rules.checks import not_stated as not_stated
from bailee.rules.checks import notices as notices
from bailee.rules.checks import outdoor as outdoor
from bailee.rules.checks import pump_checks as pump_checks
from bailee.rules.checks import surfaces as surfaces
from bailee.rules.checks import surroundings as surroundings
from bailee.rules.checks import transfers as transfers
from bailee.rules.checks import visit as visit
from bailee.rules.checks import voids as voids
from bailee.rules.checks.envelope import at_the_dock as at_the_dock
from bailee.rules.checks.envelope import packing as packing
from bailee.rules.checks.envelope import receiving as receiving
from bailee.rules.checks.envelope import sealing as sealing
from bailee.rules.checks.envelope import second_opening as second_opening
from bailee.rules.checks.envelope import shipping as shipping
from bailee.rules.checks.envelope import under_way as under_way
from bailee.rules.checks.laboratory import collected_again as collected_again
from bailee.rules.checks.laboratory import disposals as disposals
from bailee.rules.checks.laboratory import requested as requested
from bailee.rules.checks.laboratory import stores as stores
