"""A recogniser in name only: what it hears is its heirs' business, and nobody teaches it."""

from assistant.devices.ears.hearing import Decoded
from grammar.offer import Offer


class Untaught:
    """The parts of ``Recogniser`` that do nothing here."""

    def arm(self, offer: Offer) -> None:
        del offer

    def learn(self, decoded: Decoded) -> None:
        del decoded

    def confirm(self, decoded: Decoded) -> None:
        del decoded

    def unlearn(self, decoded: Decoded) -> None:
        del decoded

    def forget(self) -> None:
        """Nothing was learnt."""
