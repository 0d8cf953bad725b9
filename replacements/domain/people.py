"""The people at a place: in what capacity they speak for it, and in which language."""

from services_inventory.domain.labels import Labeled


class Capacity(Labeled):
    """In what capacity somebody speaks for a place."""

    OWNER = "OWNER"
    TENANT = "TENANT"
    MANAGER = "MANAGER", "manager of the building"


# Codes of ISO 639-1; what is spoken at home in many American towns.
LANGUAGES = {
    "en": "English", "es": "Spanish", "ar": "Arabic", "fr": "French", "hmn": "Hmong",
    "ht": "Haitian Creole", "ko": "Korean", "pl": "Polish", "pt": "Portuguese", "ru": "Russian",
    "so": "Somali", "tl": "Tagalog", "vi": "Vietnamese", "zh": "Chinese", "other": "another",
}  # fmt: skip
