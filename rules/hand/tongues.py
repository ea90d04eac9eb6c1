"""The worst words in other tongues: a cry in one of them is no mere note. Words: common practice, no source.

German, French, Spanish, Italian, Portuguese, Dutch, Swedish, Danish, Norwegian, Polish and Czech. What is denied in one
of them is never taken as clear: whoever wrote it is asked.
"""

from __future__ import annotations

import re
from unicodedata import normalize

EGGS, FIRE, SMOKE, HURT = "smell of rotten eggs", "fire", "smoke", "somebody who is hurt"
ILL = "somebody who feels ill"
BAD_SMELL, BANG, SPARK = "bad smell", "bang", "spark"
#: Gas lifts acid out where it bubbles: a matter of level and amps, and no cracked case (common practice, no source).
PUSHED_OUT, SPRAYS = "acid pushed out at the vents", "acid that sprays"

#: Parts of a sentence: what one denies, another may say.
_PARTS = re.compile(r"[,;:!]|[.](?!\d)|\b(?:aber|sondern|mais|pero|(?<!nie )ma|mas|maar|men|ale|lecz|but)\b")
_DENIED = re.compile(
    r"\b(?:kein\w*|nicht\w*|ohne|nie|niemand|weder|personne ne|nadie|tampoco|ningu[eé]m|nem|varken|hverken|"
    r"verken|nikt|ani|nikdo|pas|sans|aucune?|jamais|rien|plus|sin|ning[uú]n\w*|nada|nunca|non|senza|"
    r"nessun\w*|niente|não|nao|sem|nenhum\w*|geen|niet|zonder|inga?|ingen|inget|intet|inte|utan|uden|ikke|uten|bez|"
    r"brak|nic|žádn\w*|zadn\w*|není|neni|nehoří|nehori|"
    # In Portuguese it is "in the".
    r"no(?!\s+(?:bloco|carregador|quarto|elemento|banco|cabo|terminal|ch[aã]o|\w*\d)))\b|\bn['’]"
)
#: Words of these that deny and are none in English: beside an English word of danger ("keine Explosion") they leave it
#: in doubt.
DENIED_ELSEWHERE = re.compile(
    r"\b(?:kein\w*|nicht\w*|ohne|niemand|weder|pas|sans|aucune?|jamais|rien|personne\s+n\w*|ning[uú]n\w*|nada|nunca|"
    r"nadie|tampoco|senza|nessun\w*|niente|não|nao|sem|nenhum\w*|ningu[eé]m|nem|geen|niet|zonder|ingen|inget|intet|"
    r"inte|"
    r"varken|utan|uden|ikke|hverken|verken|uten|bez|brak|nikt|ani|nic|nie|žádn\w*|zadn\w*|není|neni|nikdo|"
    r"sin(?=\s+(?:explo|spark|flam|gas))|non (?:c'|ci |è|e |si |ha ))\b|\bn['’](?!t\b)|\bd['’]explo\w+"
)
#: A lamp burns in some of these tongues and is well.
_LAMP = re.compile(r"\b(?:\w*licht\w*|\w*lamp\w*|led|leds|lys\w*|lumi[eè]re\w*|voyants?|luz|luce|spia|kerze\w*)\b")
_ACID = re.compile(r"\b(?:\w*s[äa]e?ure|acides?|[áa]cidos?|elektrolyt\w*|\w*zuur|\w*syr[ae]n?|kwas\w*|kyselin\w*)\b")
_BODY = re.compile(
    r"\b(?:augen?|haut|gesicht|yeux|œil|oeil|peau|visage|mains?|ojos?|piel|cara|manos?|occhi\w?|pelle|viso|volto|"
    r"olhos?|pele|rosto|mãos?|oog|ogen|huid|gezicht|ög\w+|ogat|ogon|huden?|ansiktet?|øje\w*|øjne\w*|øye\w*|øyne\w*|"
    r"oczy|oczach|oku|oko|sk[óo]r[aeyęz]\w*|twarz\w*|o[čc]í|oci|očích|k[ůu]ž[eiy]|obličej\w*)\b"
)
#: What trips as the same word does in English.
_HARD = (
    (
        FIRE,
        r"feuer|brennt|flammen|brûle|brule|flammes?|incendi[eo]|feu(?!\s+vert)|fuego|arden?|ardiendo|"
        r"(?:en|hay|con) llamas|"
        r"(?:se )?quema(?:n|ndo)?|fuoco|bruciano?|fiamm[ea]|fogo|em chamas|chamas|queimando|vuur|brandt|vlammen|"
        r"in brand|brinner|i brand|eld|eldsl[åa]gor|br(?:æ|ae)nder|flammer|(?<!der )(?<!den )(?<!ein )brenner|brann|"
        r"ild|pali się|pali sie|ogień|"
        r"ogien|płonie|plonie|płomie\w+|pożar\w*|pozar\w*|hoří|hori|oheň|ohen|plamen\w*|požár\w*",
    ),
    (
        EGGS,
        r"faul\w* ei(?:er\w*)?|nach eiern|schwefel(?!s)\w*|(?:œ|oe)ufs? pourris?|soufre|huevos? podridos?|azufre|"
        r"uov[ao] marc\w*|zolfo|ovos? podres?|enxofre|rotte eieren|rot ei|zwavel(?!z)\w*|rutt\w+ ägg|svavel(?!s)\w*|"
        r"r[åa]dn\w* æg|svovl(?!s)\w*|r[åa]tn\w* egg|svovel(?!s)\w*|zgni[łl]\w* jaj\w*|jaj\w* zgni\w*|siark[aięąo]|"
        r"siarkowod\w*|zkažen\w* vej\w*|zkazen\w* vej\w*|shnil\w* vej\w*|sír[ayou]\w*|sirovod\w*",
    ),
    (
        BAD_SMELL,
        r"gestank|gasgeruch|riecht nach gas|odeur de gaz|sent le gaz|pue|huele a gas|huele mal|apesta|puzza|"
        r"odore di gas|cheir\w* a g[áa]s|cheir\w* mal|fede|gaslucht|ruikt naar gas|gaslukt|luktar gas|lugter af gas|"
        r"lukter gass|[śs]mierdzi|smrd[íi]",
    ),
    (
        HURT,
        r"verletzt\w*|ver[äa]e?tzt\w*|blessée?s?|herid[oa]s?|ferit[oiae]|ferid[oa]s?|gewond\w*|skadad person|såret|"
        r"ranny|"
        r"ranna|ranni|zraněn\w*|zranen\w*|"
        # Who lies there.
        r"bewu(?:ss|ß)tlos\w*|ohnm[äa]e?chtig\w*|umgekippt|umgefallen|gest[üu]e?rzt|zusammengebrochen|stromschlag\w*|"
        r"inconscient\w*|[ée]vanouie?s?|tomb[ée]e? (?:par terre|dans les pommes)|effondr[ée]e?|[ée]lectrocut\w*|"
        r"inconscientes?|desma[yi]\w*|desplom\w*|electrocut\w*|svenut[oaie]|svien\w*|priv[oa] di sensi|"
        r"incoscient\w*|svenim\w*|folgorat\w*|collassat\w*|eletrocut\w*|ca[íi]d[oa] no ch[ãa]o|bewusteloos|"
        r"buiten bewustzijn|"
        r"flauwgevallen|flauw gevallen|in elkaar gezakt|ge[ëe]lektrocuteerd|medvetsl[öo]s\w*|svimma\w*|kollapsa\w*|"
        r"elst[öo]t\w*|"
        r"bevidstl[øo]s\w*|besvim\w*|faldet om|bevisstl[øo]s\w*|falt om|nieprzytomn\w*|zemdla\w*|omdla\w*|"
        r"pora[żz]on\w* pr[ąa]dem|v bezv[ěe]dom[íi]|omdlel\w*|zkolabova\w*",
    ),
    (
        PUSHED_OUT,
        r"(?:kocht|l[äa]e?uft|sch[äa]e?umt) [üu]e?ber|[üu]e?ber(?:gekocht|gelaufen|sch[äa]e?umt)|d[ée]borde\w*|"
        r"rebosa\w*|"
        r"desborda\w*|trabocc\w*|transborda\w*|(?:kookt|loopt|schuimt) over|(?:kokar|svämmar|rinner) över|"
        r"(?:koger|koker|skummer|l[øo]ber) over|wykipi\w*|przelewa\w*|p[řr]et[ée]k[áa]\w*|vykyp\w*",
    ),
    (
        ILL,
        r"schwindlig|schwindelig|schwindel|kopfschmerz\w*|[üu]bel(?:keit)?|vertiges?|[ée]tourdie?|naus[ée]es?|malaise|"
        r"mal [àa] la t[êe]te|maread[oa]s?|mareos?|n[áa]useas?|dolor de cabeza|vertigini|gira la testa|nausea|"
        r"mal di testa|tontura\w*|tont[oa]s?|enjoad[oa]|duizelig|misselijk|hoofdpijn|onwel|(?:är|ar|blev|blir) yr|"
        r"illam[åa]ende|huvudv[äa]rk|"
        r"svimmel|kvalme?|hovedpine|hodepine|uvel|zawrot\w*|kr[ęe]ci \w+ si[ęe] w g[łl]owie|md[łl]o\w*|nudno[śs]ci|"
        r"to[čc][íi] se (?:\w+ )?hlava|z[áa]vra[ťt]\w*|nevolnost\w*",
    ),
    (
        SPARK,
        r"funken|funkt|[ée]tincelles?|chispas?|chispea\w*|scintill\w*|fa[íi]scas?|vonken|vonkt|gnist\w*|iskr\w*|iskier|"
        r"jisk[rř]\w*",
    ),
    (
        BANG,
        r"explodier\w*|knall\w*|geplatzt|d[ée]tonation|éclatée?|estall\w*|revent[oóaáe]\w*|esplo\w*|scoppi\w*|"
        r"estour\w*|"
        r"rebent\w*|ontplof\w*|knal|knallen|eksplo\w*|smäll\w*|knald\w*|wybuch\w*|v[ýy]buch\w*",
    ),
    (
        SMOKE,
        r"rauch|raucht|rauchend\w*|qualm\w*|brandgeruch|verschmort\w*|verbrannt\w*|fum[ée]es?|brûlée?|humo|humea\w*|"
        r"quemad[oa]s?|fumo|bruciat[oa]|fumaça|fumaca|queimad[oa]s?|rook|rookt|brandlucht|verbrand|rök\w*|ryker|røg|"
        r"(?:det|den|batteriet|\w*\d) ryger|røyk\w*|brandlukt|brændt|dym|dymu|dymi|dymem|"
        r"spalen\w*|kouř\w*|kour|kouri|spálen\w*",
    ),
)
_DANGERS = tuple([(name, re.compile(rf"\b(?:{words})\b")) for name, words in _HARD])
#: Who does not breathe, move or answer: that denies nothing. Who lies on the floor; a thing may.
_LIFELESS = re.compile(
    r"\b(?:atmet?|bewegt sich|reagiert|antwortet|wacht) (?:\w+ )?(?:nicht|nimmer)(?: mehr)?(?: auf)?\b|"
    r"\b(?:ne |n['’])?(?:respire|bouge|r[ée]pond|se r[ée]veille) (?:pas|plus)\b|"
    r"\b(?:no|ya no) (?:respira|se mueve|responde|despierta|reacciona)\b|"
    r"\bnon (?:respira|si muove|risponde|si sveglia)\b|\bn[ãa]o (?:respira|se mexe|responde|acorda)\b|"
    r"\b(?:ademt|beweegt|reageert|antwoordt) (?:\w+ )?niet\b|\bandas (?:\w+ )?inte\b|\br[öo]r sig inte\b|"
    r"\bsvarar inte\b|"
    r"\btr[æa]e?kker (?:\w+ )?ikke vejret\b|\b(?:puster|svarer|r[øo]rer (?:sig|seg)|beveger seg) (?:\w+ )?ikke\b|"
    r"\bnie (?:oddycha|rusza si[ęe]|odpowiada|reaguje)\b|\bned[ýy]ch[áa]\b|\bneh[ýy]be se\b|\bnereaguje\b"
)
_LIES = re.compile(
    r"\b(?:lieg(?:t|en)|lag) (?:\w+ )?(?:am|auf dem) (?:boden|fu(?:ss|ß)boden)\b|"
    r"\b(?:allong[ée]e?|couch[ée]e?|[ée]tendue?|est|g[iî]t|tomb[ée]e?) (?:par terre|au sol|sur le sol)\b|"
    r"\b(?:en el suelo|tirad[oa]|tumbad[oa])\b|\b(?:per|a) terra\b|\bno ch[ãa]o\b|\b(?:ligt|"
    r"lag) (?:\w+ )?op de (?:grond|vloer)\b|"
    r"\bligger (?:\w+ )?p[åa] (?:golvet|marken|gulvet|jorden|bakken)\b|\ble[żz]y (?:\w+ )?na (?:pod[łl]odze|ziemi)\b|"
    r"\ble[žz][íi] (?:\w+ )?na (?:zemi|podlaze)\b"
)
_NO_ONE = re.compile(
    r"\b(?:\w*kabel\w*|\w*batteri\w*|\w*zange|\w*werkzeug|s[äa]e?ure|wasser|c[âa]bles?|batterie?s?|bater[íi]as?|"
    r"outils?|acide|eau|"
    r"cables?|[áa]cido|agua|herramientas?|cav[oi]|acido|acqua|cabos?|[áa]gua|accu\w*|zuur|water|syr[ae]n?|vatten|"
    r"vand|vann|"
    r"akumulator\w*|kwas\w*|woda|kyselina|voda|baterie|\w*\d\w*)\b"
)
#: Words that may mean a danger or damage: they are asked about.
_SOFT = re.compile(
    r"\b(?:riecht|geruch|heiss(?!t)\w*|gerissen|risse?|undicht|läuft aus|lauft aus|ausgelaufen|geplatzt|aufgebläht|"
    r"gefahr|gefährlich|odeurs?|chaude?s?|bouillante?s?|fissur\w*|fêlée?|fuit|fuites?|coule|gonfl\w+|huele|olor|"
    r"calientes?|grietas?|agrietad\w*|fugas?|gotea|hinchad\w*|peligro\w*|odore|scotta|bollent[ei]|cald[aoie]|"
    r"crep[ae]|crepat\w*|incrinat\w*|perde|perdita|gonfi\w*|pericolo\w*|aiuto|socorro|cheir\w*|quentes?|rachad\w*|"
    r"racha|vaza\w*|inchad\w*|perigo\w*|ruikt|heet|gescheurd|barst|barsten|lekt?|lekkage|gevaar\w*|luktar?|lukter|"
    r"lugter?|hett|sprick\w*|spruck\w*|läcker|läckage|revn\w*|lækker|sprekk\w*|lekker|farlig\w*|zapach\w*|"
    r"gor[ąa]c\w*|pęk\w*|pekni\w*|wyciek\w*|cieknie|niebezpiecz\w*|zápach\w*|hork[ýyáaéeo]|praskl\w*|prasklin\w*|"
    r"vytek\w*|teče|tece|nebezpe\w*)\b"
)


def cries(words: str) -> tuple[str, ...]:
    """Return the dangers that words in another tongue plainly say, by their English names; what is denied is not.

    Examples
    --------
    >>> cries("es riecht nach faulen Eiern und die Batterie brennt"), cries("hay humo y chispas"), cries("kein Rauch")
    (('fire', 'smell of rotten eggs'), ('spark', 'smoke'), ())
    """
    found: set[str] = set()
    for part in _parts(words):
        if _LIFELESS.search(part) or (_LIES.search(part) and not (_NO_ONE.search(part) or _DENIED.search(part))):
            found.add(HURT)
        elif _DENIED.search(part) is None:
            found |= _said(part) - ({FIRE} if _LAMP.search(part) else set())
    return tuple([name for name, _ in _HARD if name in found])


def may_cry(words: str) -> bool:
    """Tell whether words in another tongue may mean a danger or damage, or deny one: whoever wrote them is asked.

    Examples
    --------
    >>> [may_cry(words) for words in ("kein Rauch", "A2 ist heiß", "das Licht brennt", "Klemmen gefettet")]
    [True, True, True, False]
    """
    return any(_said(part) or _SOFT.search(part) for part in _parts(words))


def denied_cry(words: str) -> bool:
    """Tell whether words in another tongue name a danger that they do not plainly say: they deny it, or may.

    Examples
    --------
    >>> denied_cry("kein Gasgeruch"), denied_cry("Gasgeruch"), denied_cry("A2 ist heiß")
    (True, False, False)
    """
    return any(_said(part) for part in _parts(words)) and not cries(words)


def _parts(words: str) -> list[str]:
    return _PARTS.split(normalize("NFC", words).casefold())


def _said(part: str) -> set[str]:
    """Return which dangers a part of a sentence names, denied or not."""
    found = {name for name, pattern in _DANGERS if pattern.search(part)}
    if _BODY.search(part) and (FIRE in found or _ACID.search(part)):
        found = (found - {FIRE}) | {HURT}  # eyes and skin burn without a flame
    return found
