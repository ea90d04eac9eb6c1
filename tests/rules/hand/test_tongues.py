"""A cry in another tongue is the danger that it says, or is asked about. Words: common practice, no source."""

from __future__ import annotations

import pytest

from rules.hand import dangers, located, understood, worries
from tests.moments.test_moments_fire_and_smoke import charged


@pytest.mark.parametrize(
    ("words", "what"),
    [
        ("es riecht nach faulen Eiern und die Batterie brennt", {"fire", "smell of rotten eggs"}),
        ("Rauch an A2", {"smoke"}),
        ("Säure im Auge", {"somebody who is hurt"}),
        ("A2 ist explodiert, es raucht", {"bang", "smoke"}),
        ("ça sent les œufs pourris", {"smell of rotten eggs"}),
        ("il y a de la fumée et des étincelles", {"smoke", "spark"}),
        ("la batterie brûle", {"fire"}),
        ("huele a huevos podridos", {"smell of rotten eggs"}),
        ("hay humo y chispas", {"smoke", "spark"}),
        ("fuego en A1", {"fire"}),
        ("ácido en el ojo", {"somebody who is hurt"}),
        ("odore di uova marce", {"smell of rotten eggs"}),
        ("la batteria va a fuoco", {"fire"}),
        ("cheiro a ovos podres", {"smell of rotten eggs"}),
        ("fumo no bloco 2", {"smoke"}),
        ("rotte eieren, de accu staat in brand", {"smell of rotten eggs", "fire"}),
        ("er komt rook uit A2", {"smoke"}),
        ("det brinner", {"fire"}),
        ("det luktar ruttna ägg", {"smell of rotten eggs"}),
        ("A2 ryger", {"smoke"}),
        ("der er røg og gnister", {"smoke", "spark"}),
        ("batteriet brenner", {"fire"}),
        ("śmierdzi zgniłymi jajami", {"smell of rotten eggs", "bad smell"}),
        ("dym i iskry", {"smoke", "spark"}),
        ("baterie hoří", {"fire"}),
        ("kouř z A2", {"smoke"}),
        ("kein Rauch, aber Funken", {"spark"}),
        ("Explosion, niemand verletzt", {"bang"}),
        ("une personne blessée", {"somebody who is hurt"}),
        ("Explosion in A2", {"bang"}),
        ("explosión en A2", {"bang"}),
        ("wybuch w A2", {"bang"}),
    ],
)
def test_a_cry_in_another_tongue_is_its_danger(words: str, what: set[str]) -> None:
    assert set(dangers(words)) | {"bad smell"} == what | {"bad smell"} and understood(words) and not worries(words)


@pytest.mark.parametrize(
    "words",
    [
        "kein Rauch", "no hay humo", "pas de fumée", "non c'è fumo", "não há fumo", "geen rook", "ingen rök",
        "ikke røg", "nie ma dymu", "není kouř", "A2 ist heiß", "A2 est chaud", "A2 está caliente", "A2 ist undicht",
        "A2 gotea", "A2 è crepata", "A2 lekt", "das Licht brennt", "il n'y a plus de fumée", "A2 pękła", "A2 praskla",
        # What is written in these tongues as in English, and denied in them.
        "keine Explosion", "pas d'explosion", "sin explosión", "nessuna esplosione", "sem explosão", "geen explosie",
        "ingen explosion", "ingen eksplosion", "ingen eksplosjon", "brak wybuchu", "žádný výbuch",
        # Nobody is hurt, or nobody smells it.
        "niemand verletzt", "personne n'est blessé", "nadie herido", "nessuno ferito", "ninguém ferido",
        "niemand gewond", "ingen skadad person", "ingen såret", "nikt nie ma ranny", "nikdo není zraněn",
        "kein Gasgeruch", "niemand riecht Gas, kein Gasgeruch", "personne ne sent le gaz", "nadie huele a gas",
        "nessuno sente odore di gas", "geen gaslucht", "ingen gaslukt", "ingen lukter gass", "weder Rauch noch Feuer",
    ],
)  # fmt: skip
def test_what_is_denied_or_may_be_one_is_asked_and_never_taken_as_clear(words: str) -> None:
    assert dangers(words) == () and not understood(words) and worries(words)


@pytest.mark.parametrize(
    "words",
    [
        "Klemmen gefettet", "Feuerlöscher hängt an der Tür", "Schwefelsäure bestellt", "nouvelle cosse montée",
        "he comprado agua destilada", "ho pulito i morsetti", "limpei os bornes", "klemmen schoongemaakt",
        "jag har bytt kabeln", "ny ladning i morgen", "rok produkcji 2019", "vyměněn kabel", "wymieniono kabel",
        "new caps ordered", "brand new charger", "the men moved the table", "mas o menos 12 V", "ik heb het gedaan",
        "der Block heißt A2",
    ],
)  # fmt: skip
def test_harmless_words_in_these_tongues_stay_notes(words: str) -> None:
    assert dangers(words) == () and not worries(words)


def test_the_block_that_is_named_keeps_its_name() -> None:
    assert located("", "Rauch an A2", {"", "A1", "A2"}) == [("A2", "Rauch an A2")]
    moment = charged()
    moment.hand("note", {}, note="A2 brennt")
    assert "fire-noted" in moment.now.latched and "somebody noted: fire at A2" in moment.now.texts


def test_a_foreign_note_trips_or_asks_and_a_harmless_one_does_neither() -> None:
    moment = charged()
    assert "unsure" in moment.hand("note", {}, note="no hay humo")
    assert "hand" in moment.hand("note", {}, note="Klemmen gefettet") and not moment.now.latched
    moment.hand("note", {}, note="huele a huevos podridos")
    assert "danger-noted" in moment.now.latched and not moment.now.allowed
