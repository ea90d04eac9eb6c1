"""What was seen in a cell, from the words in which somebody noted it."""

from __future__ import annotations

import re
from collections.abc import Collection

from rules.hand import connections
from rules.hand.asked_words import asks, without_harmless
from rules.hand.denied import PARTS_BUT_POINTS, doubted, said
from rules.hand.level_words import bare_plates
from rules.hand.misspelt import meant
from rules.hand.numbered import spelled_out
from rules.hand.people import as_down
from rules.hand.tongues import (
    BAD_SMELL,
    BANG,
    EGGS,
    FIRE,
    HURT,
    ILL,
    PUSHED_OUT,
    SMOKE,
    SPARK,
    SPRAYS,
    cries,
    denied_cry,
    may_cry,
)

#: White deposits on the plates are graded from 0, clean, to this.
WORST = 4
_DEPOSITS = re.compile(
    r"(?P<no>\b(?:no|not|without)\s+(?:any\s+)?)?"
    r"(?:sul(?:f|ph)at\w*|white deposits?|deposits?|white(?=\D{0,14}\d))[^\d,;]{0,14}(?P<grade>\d)?",
    re.IGNORECASE,
)
#: What a smell may be without harm, and what it may be called when it is none of a bank at work.
_USUAL = r"(?:normal|usual|fine|okay|ok|good|right|clean|fresh|as (?:always|ever|before))"
_BAD = (
    r"(?:bad|odd|strange|funny|weird|foul|awful|nasty|acrid|pungent|sharp|sour|acid|acidic|burnt|chemical|gas|gassy|"
    r"strong|slight|faint|some|wrong)"
)
_SMELL_GONE = re.compile(r"\b(?:smell|stink|odou?r)\b.*\bgone\b", re.IGNORECASE)
HOT_BLOCK = "hot block"
_BODY = r"(?:eyes?|nose|throat|skin|hands?|arms?|face|fingers?|lungs?)"
_BURNS = r"\bburn(?:s|ing)\b"
#: What burns and is no fire: eyes and skin; heat; and a smell of burning, which tells of smoke.
_NO_FLAME = re.compile(
    rf"\b{_BODY}\b[^,;.]*{_BURNS}|{_BURNS}[^,;.]*\b{_BODY}\b|\bacid\s+burns\b|{_BURNS}\s+(?:hot|sensation)\b|"
    rf"\b(?:smell|odou?r|st[iau]nk|stench|reek)\w*\s+(?:of|like)\s+(?:\w+\s+)?{_BURNS}|"
    rf"{_BURNS}\s+(?:\w*[a-z]\w*\s+)?(?:smell|odou?r|stench)\b",
    re.IGNORECASE,
)
_TOPS = r"(?:caps?|vents?|vent\s+(?:caps?|holes?)|plugs?|fillers?|filler\s+(?:caps?|holes?)|tops?|lids?|covers?)"
#: What a person notices that means that a cell may burst, burn or poison now, in the words in which people note it.
_DANGERS = (
    (
        FIRE,
        re.compile(
            r"\bfires?\b(?!\s*-?(?:extinguisher|blanket|door|alarm|escape|exit|wood|brigade|service|station|code|"
            r"bucket|"
            r"place|up\b))|\bflam(?:es?|ing)\b|\b(?:a?blaze|blazes|blazing)\b|\b(?:ignit(?:es?|ed)|alight)\b|" + _BURNS,
            re.IGNORECASE,
        ),
    ),
    # In any spelling: who smells it types badly, and the nose goes numb.
    (
        EGGS,
        re.compile(
            r"\be+g+[sz]*\b|\beg+es\b|\br[ou]t+[aeiou]n\b|\brotn\b|\bs[ua]l(?:f|ph)[aeiou]r(?:y|ous)?\b", re.IGNORECASE
        ),
    ),
    (
        BAD_SMELL,
        re.compile(
            r"\bst[iau]nk|\bstench|\breek(?:s|ed|ing)?\b|\bwhiff|\bpongs?\b|\bfumes?\b|\bh2s\b|"
            rf"\bsmell(?:s|y)\b(?!.*\b{_USUAL}\b)|"
            rf"\b{_BAD}\s+(?:smell|odou?r)|\bsmell(?:ed|ing)?\s+{_BAD}\b|"
            rf"\b(?:smell(?:ed|ing)?|odou?r)\s+(?:of|like)\b(?!.*\b{_USUAL}\b)|\b(?:smell|odou?r)\s+is\s+{_BAD}\b",
            re.IGNORECASE,
        ),
    ),
    (
        ILL,
        re.compile(
            r"\bhead ?aches?\b|\bdizz|\bdizy|\bnause|\bfe(?:el|els|eling|lt) (?:\w+ )?(?:sick|ill|unwell|woozy|funny|"
            r"strange|weird|odd)\b|\bcough|\bwoozy\b|\bdrowsy\b|\bdazed\b|\blight-?\s?headed\b|\bgiddy\b|\bvomit|"
            r"\bthr(?:ew|ow|ows|owing)\s+up\b|\b(?:is|am|are|i'm|he's|she's)\s+(?:\w+\s+)?(?:sick|unwell)\b|"
            r"\bfeel(?:s|ing)?\s+wrong\b|\bdo(?:es)?nt\s+feel\s+(?:well|good|right|ok)\b|"
            r"\bhead\s+(?:\w+\s+)?(?:hurts?|spins?|spinning|pounds?|pounding|swims)\b|"
            r"\b(?:eyes?|nose|throat)\s+(?:\w+\s+)?(?:sting|burn|itch|water)|\b(?:sting|"
            r"burn)\w*\s+(?:in\s+)?(?:\w+\s+)?"
            r"(?:eyes?|nose|throat)\b|\b(?:short of breath|hard to breathe)\b",
            re.IGNORECASE,
        ),
    ),
    (
        SPARK,
        re.compile(
            r"\bspark(?:s|ed|ing)?\b|\barc(?:s|ed|ing)?\b|\bflash|\bglow(?:s|ed|ing)?\b|\bcrackl|\bsizzl", re.IGNORECASE
        ),
    ),
    (
        BANG,
        re.compile(
            r"\bbang|\bexplo|\bburst|\bbl(?:ew|own) (?:up|off|apart)\b|\bpop(?:s|ping)\b|"
            r"\bpopped\b(?! (?:in|round|over|out|by|down|up)\b)|"
            r"\b(?:lids?|caps?|vents?|plugs?|tops?)\b[^,;]*\b(?:flew|flown|lifted|jumped|thrown|pushed)\s+(?:off|up|"
            r"out)",
            re.IGNORECASE,
        ),
    ),
    (
        PUSHED_OUT,
        re.compile(
            r"\boverflow|\b(?:runs?|running|ran|spills?|spilling|froth\w*|foam\w*|boil\w*|bubbl\w*|gass\w*|comes|"
            r"coming|came)"
            r"\s+over\b(?!\s+(?:the\s+)?(?:floor|ground|bench|shelf|table|to|here|there|by))|"
            rf"\b(?:acid|electrolyte|liquid|fluid|water|foam|froth|bubbles|it)\b[^,;]*\b(?:out|up|over)\s+(?:of|at|"
            rf"through|from|by)?"
            rf"\s*(?:the\s+|its\s+|all\s+|one\s+)?{_TOPS}\b|"
            rf"\b(?:acid|electrolyte|liquid|fluid|foam|froth)\b[^,;]*\b(?:on|over)\s+(?:(?:the|its|"
            rf"all)\s+)*(?:\w*\d\w*\s+)?{_TOPS}\b|"
            rf"\b{_TOPS}\b[^,;]*\b(?:wet|acid|spit\w*|foam\w*|froth\w*|push\w* out acid)\b",
            re.IGNORECASE,
        ),
    ),
    (
        SPRAYS,
        re.compile(
            r"\b(?:acid|electrolyte|liquid|fluid|water)\b[^,;]*\b(?:spray|squirt|spurt|spew|gush|spit|shoot|shot|"
            r"splash)|"
            r"\b(?:spray|squirt|spurt|spew|gush|spit|shoot|shot|splash)\w*\s+(?:\w+\s+)?(?:acid|electrolyte|out|up|"
            r"over|"
            r"from|everywhere)\b|\b(?:spray|squirt|spurt|spew|gush|splash|spitt)ing\b|\bacid\s+(?:mist|fog|haze|cloud)|"
            r"\berupt|\bfountain",
            re.IGNORECASE,
        ),
    ),
    ("hissing", re.compile(r"\bhiss|\bwhistl|\bsquealing\b", re.IGNORECASE)),
    (
        HURT,
        re.compile(
            r"\b(?:got|get|gets|gave|felt|had)\b[^,;]*\b(?:shocks?|zapp?(?:ed)?|jolt|tingl\w*)\b|"
            r"\bshocked (?:me|him|her)\b|"
            r"\b(?:acid|splash\w*|burn\w*)\b[^,;]*\b(?:eyes?|face|skin|hands?|arms?|legs?|foot|feet|mouth)\b|"
            r"\b(?:am|(?<!nobody )is|are|(?<!nobody )was|were|got|been|badly|somebody|someone|i'm|he's|she's)\s+"
            r"(?:\w+ly\s+)?(?:hurt|wounded|blinded)\b|(?<!nobody )\binjured\b|\bunconscious\b|\belectrocuted\b",
            re.IGNORECASE,
        ),
    ),
    (
        SMOKE,
        re.compile(
            r"\bsmok|\bsmoulder|\bsmolder|\bburn(?:t|ing|ed)?\b|\bsing(?:ed|eing)\b|\bcharred\b|\bscorch", re.IGNORECASE
        ),
    ),
    (
        HOT_BLOCK,
        re.compile(
            r"\bhot(?:ter|test)?\b|\bscalding\b|\bsteam|\bmelt|\boverheat|\bred-?hot\b|\btoo warm\b|"
            r"\b(?:cannot|can't|can not|could not|couldn't) (?:be touched|touch|hold (?:a|my|the|your) hand|"
            r"keep (?:a|my|the|your) hand)",
            re.IGNORECASE,
        ),
    ),
)
_PUSHED = dict(_DANGERS)[PUSHED_OUT]
_SPARKS = re.compile(r"\bspark|\barc(?:s|ed|ing)?\b|\bflash|\bcrackl|\bsizzl", re.IGNORECASE)
#: What forbids charging until the block is replaced or taken out, or looked over and found sound.
_DAMAGES = (
    (
        "crack",
        re.compile(
            r"\bcrack(?!l)|\bfractur|\bruptur|\bshatter|\bsmashed\b|\b(?:case|box|side|lid)\b[^,;]*\bsplit\b|"
            r"\bbroken (?:case|box)|\bsplit (?:case|open|along)|\d (?:is|has|was|looks) (?:\w+ )?split\b|"
            r"\bhole in (?:the |its |a )?(?:case|side|wall|box)",
            re.IGNORECASE,
        ),
    ),
    (
        "leak",
        re.compile(
            r"\bleak|\b(?:acid|electrolyte) (?:\w+ )?(?:runs|ran|running|spill\w*|spilt|everywhere)|"
            r"\b(?:acid|electrolyte) (?:\w+ )?(?:comes|came|coming) out\b|"
            r"\bweeping\b|\b(?:acid|electrolyte)\b[^,;]*\b(?:on|over) the (?:floor|ground|bench|shelf|table)\b|"
            r"\bdrip(?:s|ping)\b|\bseep|\booz|\bpuddle|\b(?:spilt|spilled) acid",
            re.IGNORECASE,
        ),
    ),
    (
        "bulge",
        re.compile(
            r"\bbulg|\bswollen|\bswell|\bdistort|\bbloat|\bpuff(?:ed|y)|\bbuckl|\bdomed\b|\bwarp|\bdeform|\bballoon",
            re.IGNORECASE,
        ),
    ),
    ("frozen", re.compile(r"\bfrozen|\bfroze\b|\bice\b|\bicy\b|\bslush", re.IGNORECASE)),
)
#: What is none of a bank's: words of danger beside it may mean another thing.
_ELSEWHERE = re.compile(
    r"\b(?:cats?|dogs?|hens?|chickens?|breakfast|lunch|dinner|supper|kitchen|cook\w*|fry\w*|toast|coffee|tea|soup|"
    r"kettle|stove|oven|chimney|bonfire|barbecue|cigarettes?|windows?|mirrors?|mugs?|cups?|roof|gutters?|taps?|"
    r"faucets?|bath|radiators?|tyres?|tires?|tractors?|cars?|trucks?|boats?|neighbou?rs?)\b",
    re.IGNORECASE,
)
#: What belongs to a bank: beside it they mean what they say.
_OF_A_BANK = re.compile(
    r"\b(?:blocks?|batter(?:y|ies)|cells?|cases?|banks?|strings?|posts?|terminals?|acid|electrolyte|plates?|jars?|"
    r"cables?|clamps?|charger|vents?|caps?)\b",
    re.IGNORECASE,
)
#: What makes a smell of eggs: without it more than two words with eggs in them may be about eggs.
_OF_EGGS = re.compile(
    r"\brotten\b|\bsul(?:f|ph)ur|\bsmel|\bst[iau]nk|\bstench|\breek|\bwhiff|\bpong|\bodou?r|\bgas", re.IGNORECASE
)
_A_CRY = 2
_HARD = r"(?:hard|violent\w*|wild\w*|fierce\w*|furious\w*|heav(?:y|ily)|vigorous\w*|very strong\w*|like mad)"
_BUBBLES = r"(?:bubbl|gass|fizz|froth|foam)\w*"
_BOILS = re.compile(
    rf"\bboil(?:s|ed|ing)?\b|\b(?:foam|froth)(?:s|ed|ing|y)?\b|\b{_HARD}\s+{_BUBBLES}|\b{_BUBBLES}\s+(?:very\s+|"
    rf"too\s+|so\s+)?{_HARD}\b",
    re.IGNORECASE,
)
#: What somebody writes who is worried, and that says nothing by itself.
_WORRIED = re.compile(
    r"\bwet\b|\bdamp\b|\bstrange|\bodd(?:ly)?\b|\bweird|\bdanger|\bscar(?:y|ed)\b|\bworr|\bemergency\b|\balarm|"
    r"\bnois[ey]|\bloud|\bgurgl|\brumbl|\bknock|\bthump|\bvibrat|\bshaking\b|\bsomething\b[^,;]*\bwrong\b|\bvapou?r|"
    r"\bhelp\b(?!\s+(?:with|me with|of|from|the charger))|\bmist\b|\bhaze\b|\bunsafe\b|\bfrost(?:y|ed)?\b",
    re.IGNORECASE,
)
_WORD = re.compile(r"\w[\w.]*\w|\w")
#: Words that stand beside labels and say nothing of them.
_BETWEEN = frozenset({"and", "block", "blocks", "cell", "cells", "at", "in", "on", "the"})
_MENDED = re.compile(r"\bmended|\brepaired|\breplaced|\bsound\b", re.IGNORECASE)
_THAWED = re.compile(r"\bthaw(?:ed)?\b", re.IGNORECASE)
_NO_GAS = re.compile(
    r"(?:gassing|bubbl\w*):?\s+(?:none|no\b)|\b(?:no|not|without)\s+(?:any\s+)?(?:gas|bubbl|fizz|froth|foam)",
    re.IGNORECASE,
)
_GAS = re.compile(r"gas|milky|\bboil|\bbubbl|\bfizz|\bfroth|\bfoam", re.IGNORECASE)
#: Gas that is smelled is none that is seen in a cell.
_SMELLED = re.compile(
    r"\b(?:smel\w*|odou?r\w*|st[iau]nk\w*|riecht|huele|odore|sent\w*|cheir\w*|lukt\w*|lugt\w*|ruikt)(?:\s+\w+){0,2}?"
    r"\s+g[aá]ss?\b|\bgas\s?(?:smell|odou?r|geruch|lucht|lukt)\w*",
    re.IGNORECASE,
)
#: Words that say that nothing is wrong.
_ALL_WELL = re.compile(
    rf"\b(?:all|looks?|is|are|everything|smells?|seems?)\b.*\b(?:well|quiet|{_USUAL})\b|\bnothing\b|"
    r"\b(?:no|not|without)\b.*\b(?:smell|odou?r|noise|sound)",
    re.IGNORECASE,
)


def deposits(seen: str) -> int | None:
    """Return white deposits from 0 to 4; 1 where they are named without a grade, None where nothing is said of them.

    Examples
    --------
    >>> [deposits(words) for words in ("sulfated 3 of 4", "white deposits", "no sulfate", "clean", "brown")]
    [3, 1, 0, 0, None]
    """
    found = _DEPOSITS.search(seen)
    if found is None:
        return 0 if "clean" in seen.lower() else None
    return 0 if found["no"] else int(found["grade"] or 1)


def gasses(seen: str) -> bool | None:
    """Tell whether the cell was seen to gas; None where nothing is said of it.

    Examples
    --------
    >>> [gasses(words) for words in ("gassing milky", "clean, gassing none", "does not gas", "clean", "smells of gas")]
    [True, False, False, None, None]
    """
    seen = _SMELLED.sub("", seen)
    if _GAS.search(seen) is None:
        return None
    return _NO_GAS.search(seen) is None


def dangers(words: str) -> tuple[str, ...]:
    """Return what somebody noticed that is a danger at this moment; nothing where it is denied.

    Examples
    --------
    >>> dangers("N2 boiling hot, smells of rotten eggs"), dangers("all well, no smell of eggs, gassing")
    (('smell of rotten eggs', 'hot block'), ())
    """
    words = as_down(without_harmless(words))
    of_fire = _NO_FLAME.sub("hurts", words)
    found = [
        each
        for name, pattern in _DANGERS
        if said(of_fire if name == FIRE else words, pattern)
        for each in _of_what(words, name, pattern)
    ]
    found += [name for name in cries(words) if name not in found]
    # Who says of what it smells has said that it smells; and what burns smokes, where nobody speaks of the smoke.
    implied = {BAD_SMELL} if EGGS in found else set()
    if FIRE in found and re.search(r"\bsmo", words, re.IGNORECASE) is None:
        implied |= {SMOKE} - set(cries(words))
    return tuple([name for name in found if name not in implied])


def _of_what(words: str, name: str, pattern: re.Pattern[str]) -> list[str]:
    """Return how a danger is called by what it was seen at: a connection or a charger that is hot is no block."""
    at_connection = {HOT_BLOCK: connections.HOT, SPARK: connections.SPARKING}.get(name)
    if at_connection is None:
        return [name]
    of = connections.subjects(words, pattern)
    if name == SPARK and said(words, _SPARKS) is not True:
        at_connection = connections.HOT  # it only glows
    elsewhere = {"connection": at_connection, **({"charger": connections.HOT_CHARGER} if name == HOT_BLOCK else {})}
    names = [name] if of - elsewhere.keys() else []
    return [*names, *[called for subject, called in elsewhere.items() if subject in of]]


def may_mean_another(words: str) -> bool:
    """Tell whether words of danger or damage may be of something else than the bank: then whoever typed them is asked.

    Examples
    --------
    >>> [may_mean_another(words) for words in ("the barn cat smells of eggs", "I fixed the cracked window")]
    [True, True]
    >>> [may_mean_another(words) for words in ("eggs for breakfast", "rotten eggs", "eggs", "cell 2 is cracked")]
    [True, False, False, False]
    """
    found = dangers(words)
    if not (found or True in damages(words).values()) or _OF_A_BANK.search(words):
        return False
    if HURT in found:
        return False  # whoever lies there needs help, wherever that is
    of_eggs = _OF_EGGS.search(words) is not None or bool(cries(words))
    only_eggs = found == (EGGS,) and not of_eggs and len(_WORD.findall(words)) > _A_CRY
    return only_eggs or _ELSEWHERE.search(words) is not None


def boils(words: str) -> bool:
    """Tell whether somebody saw a cell boil.

    Examples
    --------
    >>> boils("boiling like a kettle"), boils("not boiling")
    (True, False)
    """
    return said(words, _BOILS) is True


def worries(words: str) -> bool:
    """Tell whether words from which nothing follows are those of somebody who is worried: they are asked what it is.

    Examples
    --------
    >>> worries("A2 is wet"), worries("it rumbles"), worries("not loud"), worries("moved the table")
    (True, True, False, False)
    """
    if dangers(words):
        return False  # nobody waits for an answer
    if in_doubt(words) or denied_cry(words) or (meant(words) and True not in damages(words).values()):
        return True
    if without_harmless(words) != words or (asks(words) and not forbids(words)):
        return True
    return not understood(words) and (said(words, _WORRIED) is True or may_cry(words) or connections.of_a_hose(words))


def forbids(words: str) -> bool:
    """Tell whether words of something seen forbid charging by themselves.

    Examples
    --------
    >>> forbids("A2 leaks"), forbids("plates dry"), forbids("no crack")
    (True, True, False)
    """
    return True in damages(words).values() or bare_plates(words)


def in_doubt(words: str) -> bool:
    """Tell whether a danger or damage is named in a way that may deny it or not.

    Examples
    --------
    >>> in_doubt("nobody smells gas"), in_doubt("not sure whether A2 leaks"), in_doubt("no smoke")
    (True, True, False)
    """
    words = as_down(words)
    return any(doubted(words, pattern) for _, pattern in (*_DANGERS, *_DAMAGES))


def understood(words: str) -> bool:
    """Tell whether anything follows from what somebody noted; else it is kept as words, and only read by people.

    Examples
    --------
    >>> understood("stinks a bit"), understood("all well"), understood("no cracks"), understood("hums in B flat")
    (True, True, True, False)
    """
    words = as_down(without_harmless(words))
    graded = deposits(words) is not None or gasses(words) is not None or bare_plates(words)
    told = graded or bool(damages(words)) or any(said(words, pattern) is not None for _, pattern in _DANGERS)
    told = told or bool(cries(words)) or connections.spoken_of(words)
    return told or any(pattern.search(words) for pattern in (_ALL_WELL, _MENDED, _THAWED, _SMELL_GONE))


def located(where: str, words: str, places: Collection[str]) -> list[tuple[str, str]]:
    """Return what was said of each block or cell that the words themselves name; of `where` what names none.

    A part of a sentence that names none belongs to those that were named last.

    Parameters
    ----------
    where : str
        Place that was given beside the words; ``""`` is the whole bank.
    words : str
        As somebody noted them.
    places : collection of str
        Every place of the bank, as in `Bank.places`.

    Examples
    --------
    >>> located("", "a crack in a1", {"", "A1", "A2"}), located("", "A1 is hot, A2 is fine", {"", "A1", "A2"})
    ([('A1', 'a crack in a1')], [('A1', 'A1 is hot'), ('A2', 'A2 is fine')])
    >>> located("", "A1, A2: no leaks", {"", "A1", "A2"})
    [('A1', 'A1, A2, no leaks'), ('A2', 'A1, A2, no leaks')]
    >>> located("", "all well", {"", "A1"}), located("A2", "worse than A1", {"", "A1", "A2"})
    ([('', 'all well')], [('A2', 'worse than A1')])
    """
    if not where:
        words = spelled_out(words, places)[0]
    labels = {(f"block_{place}" if place.isdecimal() else place).lower(): place for place in places if place}

    def named(text: str) -> list[str]:
        return list(dict.fromkeys(labels[word.lower()] for word in _WORD.findall(text) if word.lower() in labels))

    first, *others = ([] if where else named(words)) or [where]
    if not others:  # nothing to tell apart
        return [(first, words)]
    groups: list[tuple[list[str], list[str]]] = [([], [])]
    for part in [part.strip() for part in PARTS_BUT_POINTS.split(words) if part.strip()]:
        here, (those, told) = named(part), groups[-1]
        only_named = all(word.lower() in labels or word.lower() in _BETWEEN for word in _WORD.findall(" ".join(told)))
        if here and told and not only_named:
            groups.append((here, [part]))  # something else is said of these
        else:
            those.extend(here)
            told.append(part)
    return [(place, ", ".join(told)) for those, told in groups for place in those or [where]]


def damages(words: str) -> dict[str, bool]:
    """Return damage to a case or a connection that somebody saw (True), or says is not there or no longer (False).

    A case that was frozen is judged only thawed and looked over: its cracks show when the ice is gone.

    Examples
    --------
    >>> damages("case cracked, no leak"), damages("thawed, no cracks, no leaks"), damages("all well")
    ({'crack': True, 'leak': False}, {'crack': False, 'leak': False, 'frozen': False}, {})
    >>> damages("cracked cable at A2"), damages("not repaired yet")
    ({'damaged connection': True}, {})
    """
    return {**_of_cases(words), **connections.faults(words)}


def _of_cases(words: str) -> dict[str, bool]:
    found = {}
    for name, pattern in _DAMAGES:
        # Acid that gas pushes out at the vents leaks from no case.
        there = said(_PUSHED.sub(" ", words) if name == "leak" else words, pattern)
        # A cable or a hose that is cracked, and a hose that leaks, is no case; acid comes out at a post all the same.
        others = {"hose"} if name == "leak" else {"hose", "connection"}
        if there is not None and not connections.subjects(words, pattern, beside=False) <= others:
            found[name] = there
    of_connections = connections.CONNECTIONS.search(words) is not None
    if not of_connections and not any(found.values()) and connections.done(words, _MENDED):
        return dict.fromkeys([name for name, _ in _DAMAGES], False)
    if _THAWED.search(words) and found.get("crack") is False and found.get("leak") is False:
        return {**found, "frozen": False}
    if found.get("frozen") is False:
        del found["frozen"]
    return found
