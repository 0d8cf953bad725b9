"""Street addresses in one spelling, so that one place has one key.

Follows USPS Publication 28, "Postal Addressing Standards": directionals (appendix B), street
suffixes (C1), secondary unit designators (C2), county, state and local highways (F).
"""

from services_inventory.domain.addresses.normalizing import AddressKind, NormalAddress, normalize

# The spelling by which checks from outside know it.
