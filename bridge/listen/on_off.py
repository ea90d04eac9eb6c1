"""What a switch says of itself, and an order to it, in the languages that meters are named in: closed or open."""

from __future__ import annotations

from bridge.listen.vocabulary import folded

#: What is said while a circuit is closed and what while it is open, or to make it so; of a word in several pairs the
#: first counts.
_PAIRS: tuple[tuple[str, str], ...] = (
    *(("on", "off"), ("true", "false"), ("1", "0"), ("closed", "open"), ("yes", "no"), ("close", "open")),
    *(("running", "stopped"), ("enabled", "disabled"), ("active", "inactive"), ("energized", "deenergized")),
    *(("ein", "aus"), ("an", "aus"), ("geschlossen", "offen"), ("eingeschaltet", "ausgeschaltet"), ("ja", "nein")),
    *(("oui", "non"), ("marche", "arrêt"), ("fermé", "ouvert"), ("enclenché", "déclenché"), ("fermer", "ouvrir")),
    *(
        ("cerrado", "abierto"),
        ("encendido", "apagado"),
        ("conectado", "desconectado"),
        ("cerrar", "abrir"),
        ("sí", "no"),
    ),
    *(
        ("acceso", "spento"),
        ("chiuso", "aperto"),
        ("inserito", "disinserito"),
        ("chiudi", "apri"),
        ("accendi", "spegni"),
    ),
    *(("ligado", "desligado"), ("fechado", "aberto"), ("ligar", "desligar"), ("sim", "não")),
    *(("włączony", "wyłączony"), ("włączone", "wyłączone"), ("włączona", "wyłączona"), ("załączony", "wyłączony")),
    *(("zamknięty", "otwarty"), ("zamknięte", "otwarte"), ("zamknij", "otwórz"), ("włącz", "wyłącz"), ("tak", "nie")),
    *(("zapnuto", "vypnuto"), ("sepnuto", "rozepnuto"), ("zap", "vyp"), ("ano", "ne")),
    *(("aan", "uit"), ("gesloten", "open"), ("ja", "nee"), ("på", "av"), ("till", "från"), ("tændt", "slukket")),
    *(("sluten", "öppen"), ("ja", "nej"), ("päällä", "pois"), ("kyllä", "ei"), ("be", "ki"), ("igen", "nem")),
    *(("shut", "open"), ("zu", "auf"), ("dicht", "open"), ("cerrada", "abierta"), ("chiusa", "aperta")),
    *(("fechada", "aberta"), ("fermée", "ouverte"), ("stängd", "öppen"), ("lukket", "åben"), ("lukket", "åpen")),
    *(("zamknięta", "otwarta"), ("zavřeno", "otevřeno"), ("zavřené", "otevřené"), ("kiinni", "auki")),
    *(("läuft", "steht"), ("draait", "stil"), ("kører", "stoppet"), ("går", "står"), ("käy", "seis")),
    *(("pracuje", "stoi"), ("běží", "stojí"), ("en marcha", "parado"), ("en marche", "à l'arrêt")),
    *(("in funzione", "fermo"), ("a trabalhar", "parado"), ("encendida", "apagada"), ("ligada", "desligada")),
    *(("påslagen", "avslagen"), ("załączone", "wyłączone"), ("załączona", "wyłączona"), ("załączono", "wyłączono")),
    *(("zał", "wył"), ("wł", "wył"), ("dentro", "fuori"), ("ingeschakeld", "uitgeschakeld"), ("kytketty", "katkaistu")),
    *(("slutet", "öppet"), ("sluttet", "brutt"), ("sluttet", "afbrudt"), ("вкл", "выкл")),
    *(("включено", "выключено"), ("да", "нет"), ("включён", "выключен"), ("замкнуто", "разомкнуто")),
    *(("закрыто", "открыто"), ("закрыта", "открыта"), ("работает", "стоит"), ("вкл", "викл")),
    *(("увімкнено", "вимкнено"), ("увімк", "вимк"), ("замкнено", "розімкнено"), ("зачинено", "відчинено")),
    *(("закрито", "відкрито"), ("працює", "стоїть"), ("так", "ні"), ("pornit", "oprit"), ("închis", "deschis")),
    *(("sees", "väljas"), ("uključeno", "isključeno"), ("zatvoreno", "otvoreno"), ("vklopljeno", "izklopljeno")),
    *(("zapnuté", "vypnuté"), ("zopnuté", "rozopnuté"), ("zapnutý", "vypnutý"), ("sepnutý", "rozepnutý")),
    *(("zárva", "nyitva"), ("κλειστό", "ανοιχτό"), ("开", "关"), ("入", "切")),
    *(("įjungta", "išjungta"), ("ieslēgts", "izslēgts")),
    *(("închisă", "deschisă"), ("pornită", "oprită"), ("tancat", "obert"), ("tancada", "oberta")),
    *(("engegat", "apagat"), ("κλειστή", "ανοιχτή"), ("kleisti", "anoixti"), ("suljettu", "avoin")),
    *(("zatvorena", "otvorena"), ("zaprto", "odprto"), ("zaprta", "odprta"), ("zatvorené", "otvorené")),
    *(("затворено", "отворено"), ("затворена", "отворена"), ("зачинена", "відчинена")),
    *(("uzdaryta", "atidaryta"), ("aizvērts", "atvērts"), ("suletud", "avatud"), ("lokað", "opið")),
)
_CLOSED = {folded(closed): opened for closed, opened in reversed(_PAIRS)}
_OPEN = {folded(opened): closed for closed, opened in reversed(_PAIRS)}


def is_closed(word: str) -> bool | None:
    """Return whether a word says that a circuit is closed; None where it is no such word.

    >>> is_closed("ein"), is_closed("Otwarty"), is_closed("zamknięty"), is_closed("auto")
    (True, False, True, None)
    """
    said = folded(word)
    return True if said in _CLOSED else False if said in _OPEN else None


def both_words(word: str) -> tuple[str, str]:
    """Return what a switch says while open and while closed, of which one was heard; its letters' size is kept.

    >>> both_words("OFF"), both_words("zamknięty"), both_words("Aus")
    (('OFF', 'ON'), ('otwarty', 'zamknięty'), ('Aus', 'Ein'))
    """
    said = folded(word)
    other = _CLOSED.get(said) or _OPEN.get(said, word)
    other = other.upper() if word.isupper() else other.capitalize() if word[:1].isupper() else other
    return (other, word) if said in _CLOSED else (word, other)
