"""The languages an operator may read: each sentence of the kiosk said in the language of the badge.

Owns the catalogues and how a sentence is put together in another language. Must not know when a sentence is said.
Figures, numbers and names always stay as they are.
"""

from kiosk.languages._language import ENGLISH, Language, Languages

__all__ = ["ENGLISH", "Language", "Languages"]
