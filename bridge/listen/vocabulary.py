"""The words: what owners call quantities, units, parts, places and things, in the languages that meters are named in.

Tables alone, as `folded` leaves their words; how a topic is taken apart into words, and what these say of it, stands in
`bridge.listen.names`.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping


def folded(text: str) -> str:
    """Return text in lower case without accents, as names are compared.

    >>> folded("Säure-Übersicht Napięcie Łódź"), folded("Größe")
    ('saure-ubersicht napiecie lodz', 'grosse')
    """
    return without_accents(text.lower())


#: Letters that no accent makes of others.
_LETTERS = str.maketrans(
    {"ł": "l", "ø": "o", "æ": "ae", "œ": "oe", "ß": "ss", "đ": "d", "ı": "i"}
    | {"Ł": "L", "Ø": "O", "Æ": "AE", "Œ": "OE", "Đ": "D"}
)


def without_accents(text: str) -> str:
    """Return text without accents, its letters' size kept."""
    bare = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return bare.translate(_LETTERS)


def word_set(words: str) -> frozenset[str]:
    """Return the words of a line as a set."""
    return frozenset(words.split())


#: Kind of quantity -> what people call it, in the languages that meters are named in; full words and letters apart.
#: All words stand as `folded` leaves them.
_FULL: dict[str, str] = {
    "voltage": "volt volts voltage voltages mv millivolt millivolts decivolt decivolts "
    "centivolt centivolts vdc vac uac udc spannung spg "
    "voltio voltios wolt wolty woltow volty voltu volttia voltti voltit voldid voltai volti βολτ вольт вольты "
    "tension tensione tensao voltaje voltaggio voltagem spanning spaenning spenning spaending "
    "napeti napatie napiecie "
    "spenna 电压 電圧 電壓 "
    "jannite feszultseg tensiune napon napetost gerilim voltaj pinge itampa spriegums напряжение напруга "
    "напрежение напон ταση напружанне "
    "tentsioa tegangan tensioni foltedd جهد ولتاژ מתח",
    "current": "current currents stroem amp amps ampere amperes amperage ma milliamps iac idc "
    "milliamp milliampere milliamperes deciamp deciamps centiamp centiamps strom stroom "
    "amperio amperios amperaje amperagem amperaggio amper ampery amperow amperu ampeeri ampeerit ampeeria amprid "
    "amperai amperi αμπερ ампер амперы "
    "corriente corrente courant intensidad intensite intensita proud prad virta aram curent struja akim vool srove "
    "ενταση prud tok straumur 电流 電流 "
    "strava ток струм струја ρευμα korrontea arus rryma cerrynt تيار جریان זרם",
    "power": "power watt watts mw milliwatt milliwatts kw kilowatt kilowatts pac pdc leistung potencia puissance "
    "guc 功率 電力 电力 "
    "potenza vermogen effekt vykon vatio vatios wat waty watow watty wattu watti watit vatid "
    "vatai vati βατ ватт ватты "
    "moc teho teljesitmeny putere snaga voimsus galia jauda мощность потужність мощност снага "
    "ισχυς potentzia daya fuqia afl drywing pwer магутнасць мокност قدرة توان הספק",
    "temperature": "temp temps tmp temperature temperatures celsius fahrenheit degc mdegc degf tempc tempf "
    "temperatur temperatura temperaturen temperatuur teplota lampotila lampo homerseklet sicaklik temperaturi "
    "thermometer "
    "hiti 温度 溫度 "
    "температура температури температуры темп θερμοκρασια тэмпература "
    "tenperatura suhu hitastig tymheredd حرارة دما טמפרטורה",
    "hydrogen": "hydrogen h2 wasserstoff hidrogeno hydrogene idrogeno waterstof hidrogenio hidrogen vodik wodor "
    "wodoru vodiku "
    "hidrojen vesinik udenradis vandenilis υδρογονο "
    "vatgas vate vety vedyn brint knallgas водород водень водню водорода",
    "gravity": "gravity sg hydrometer density dichte densidad densidade densite densita dichtheid gestosc hustota "
    "densitet tathet tiheys плотность густина щільність",
    "fan": "fan ventilator extractor blower luefter lufter ventilador ventilateur ventola ventilatore extracteur "
    "exhaust exaustor estrattore aspiratore wentylator wentylacja vetrak flakt vifte tuuletin "
    "puhallin abluft blaeser "
    "elszivo exhaustor vantilator ventilaator ventilators ventiliatorius εξαερισμος 风扇 換気扇 "
    "udsugning avtrekk afzuiging ventilacion ventilacao ventilation ventilazione ventilatie ventilering lueftung "
    "belueftung entlueftung estrazione extraccion wyciag odciag odtah odsavani utsug avsug poistopuhallin tuuletus "
    "havalandirma fani fanlar aspirator aspiratoru pervane aerisire ventilatia aerare extractie evacuare "
    "szelloztetes szellozes szellozteto elszivas ventilacija zracenje vetranie odvetranie odsavanie ventilacio "
    "ventiliacija vedinimas vedinasana ventilatsioon tombeventilaator tuulutus utsugning loftraesting "
    "вентилятор вентиляція вентиляция витяжка вытяжка вентилатор ανεμιστηρας εξαεριστηρας αερισμος "
    "вентылятар haizagailua kipas ventilatori vifta waaier ffan مروحة فن מאוורר",
    "door": "door hatch dooropen tuer tur puerta porte porta deur drzwi dvere dorr dor ovi luke lucka "
    "luik vrata wrota brama dvirka "
    "portello luukku wlaz dvierka ajto uks durvis durys 门 "
    "lid flap deckel deksel couvercle trappe tapa tapadera trampilla tampa alcapao coperchio botola pokrywa klapa "
    "wieko viko poklop poklopac pokrov kansi lokk fedel ajtaja csapoajto kapi kapisi kapak kapagi capac capacul trapa "
    "usa usita usile hurd luuk kaas dangtis porteta drzwiczki dvierka hatchway "
    "дверь двері двери дверцята дверца люк ворота врата крышка кришка капак πορτα πορτακι θυρα καπακι дзверы поклопац "
    "atea estalkia pintu tutup dera kapaku drws caead deur vaks باب غطاء درپوش דלת מכסה",
    "level": "level",
}
#: A letter before a word for a battery says what of it is measured (``pbat``, ``ubank``).
_BEFORE_A_BATTERY = {"voltage": "uv", "current": "i", "power": "pw", "temperature": "t"}
_SHORT_BATTERY = "bat batt bank akku accu aku"
OF_A_BATTERY: dict[str, str] = {
    f"{letter}{battery}": kind
    for kind, letters in _BEFORE_A_BATTERY.items()
    for letter in letters
    for battery in _SHORT_BATTERY.split()
}
_LETTERS_OF = {
    "voltage": "v u ub",
    "current": "a i ib shunt",
    "power": "w p pb",
    "temperature": "t probe probes air ambient outdoor outside ta tamb amb",
    "fan": "vent",
}
#: Word -> kind of quantity.
WORDS: dict[str, str] = {
    word: kind for table in (_FULL, _LETTERS_OF) for kind, words in table.items() for word in words.split()
}
WORDS |= OF_A_BATTERY
#: Words that say what is measured, and nothing about where.
_MEASURED_IN_FULL = frozenset(
    word
    for kind in ("voltage", "current", "power", "temperature")
    for word in (*_FULL[kind].split(), *_LETTERS_OF[kind].split())
) - word_set("shunt probe probes air ambient outdoor outside amb") | frozenset(OF_A_BATTERY)
#: A full word decides against a letter; "shunt" and "probe" say only where something is measured.
WEAK = word_set(" ".join(_LETTERS_OF.values()))
#: Canonical unit -> word -> the unit that it names.
UNITS: dict[str, dict[str, str]] = {
    "V": {
        **dict.fromkeys(("mv", "millivolt", "millivolts"), "mV"),
        **dict.fromkeys(("decivolt", "decivolts"), "dV"),
        **dict.fromkeys(("centivolt", "centivolts"), "cV"),
    },
    "A": {
        **dict.fromkeys(("ma", "milliamp", "milliamps", "milliampere", "milliamperes"), "mA"),
        **dict.fromkeys(("deciamp", "deciamps"), "dA"),
        **dict.fromkeys(("centiamp", "centiamps"), "cA"),
    },
    "W": {
        **dict.fromkeys(("kw", "kilowatt", "kilowatts"), "kW"),
        **dict.fromkeys(("mw", "milliwatt", "milliwatts"), "mW"),
    },
    "degC": {
        **dict.fromkeys(("celsius", "degc", "tempc"), "degC"),
        "mdegc": "mdegC",
        **dict.fromkeys(("fahrenheit", "degf", "tempf"), "degF"),
    },
}
DEGREE_LETTERS = {"c": "degC", "f": "degF"}
#: A letter counts as degrees right behind one of these only.
DEGREES = frozenset({"temp", "temps", "temperature", "temperatures", "deg", "t"})
#: The last words of what is no measurement of a bank: settings, bounds, counters, the radio.
NOT_OURS = word_set(
    "soc rssi lqi snr uptime humidity pressure energy kwh wh ah mah count counter version percent heap channel index "
    "illuminance linkquality frequency ttl seq sequence firmware setpoint setpoints target targets limit limits "
    "max min maximum minimum low high alarm alarms threshold thresholds nominal rated offset "
    "calibration gain raw adc "
    "updated timestamp epoch seen interval duration resolution id error errors brightness progress total yield rpm "
    "speed hours hz frequenz frecuencia frequence freq frekvens frequenza vcc soll sollwert "
    "consigne consigna setpunt "
    "borvarde nastawa ladezustand humedad humidite umidita umidade feuchte luftfeuchte luftfuktighet fuktighet hum "
    "wilgotnosc vlhkost vochtigheid hr rh druck luftdruck pression presion pressione pressao tryck cisnienie tlak "
    "age alter edad idade wiek energie energia contador compteur contatore licznik zaehler "
    "zahler fuellstand fullstand "
    "nivel niveau niveaux signal cosphi pf fp cop ph "
    "rain rainfall snow wind gust regen niederschlag lluvia viento pluie pioggia vento deszcz "
    "wiatr neige schnee nieve"
)
#: What a controller holds what is beside it at.
TARGETS = word_set(
    "setpoint setpoints target soll sollwert solltemperatur consigne consigna setpunt borvarde nastawa celtemperatur "
    "doeltemperatuur objetivo obiettivo alvo ustawiona zadana cilova tavoite celhomerseklet hedef setpunkt"
)
#: How full a battery is told to be.
FULLNESS = word_set(
    "soc percent percentage pct procent prozent porcentaje porcentagem pourcentage percentuale percentuel procenty "
    "prosent prosentti ladezustand ladestand laadtoestand laddniva batteriniva charge carga carica "
    "nabiti nabito zaryad "
    "naladowanie varaus lading ladning niveau nivel livello level "
    "заряд рівень уровень процент відсоток"
)
AIR = word_set(
    "air ambient room rm outdoor outside indoor ambiente raum luft zimmer ambiant aussen lucht "
    "aire aria pomieszczenie "
    "cuarto habitacion recinto rums camerei incaperii odasi mekan "
    "soba okolina prostorija szoba kornyezet ortam oda ohk ruum gaiss telpa patalpa miestnost "
    "ambiante кімната комната стая αερας αερα δωματιο περιβαλλον 空气 気温 室温 "
    "pomieszczenia powietrze powietrza vzduch vzduchu mistnost ilma huone rum rom kamer ruimte stanza levego воздух "
    "ar aer hava zrak vazduh повітря воздуха въздух ta tamb amb umgebung umg omgeving omgivning "
    "omgivelse omgivelser otoczenie otoczenia "
    "otocz "
    "okoli ymparisto locale mediu mediului ambiental ambianta helyiseg kornyezeti oras aplinka okolis zraka"
)
#: Air of the weather: what is called after it, or hangs outside of every house.
WEATHER = word_set(
    "outdoor outside outdoors aussen draussen exterior exterieur esterno externo buiten ulko ulkona utomhus utendors "
    "udendors vonku venku zewnatrz zewnetrzna kulso disari valjas lauke "
    "weather wetter wetterstation weatherstation meteo meteorologia meteostation pogoda pocasi pocasie weerstation "
    "weer idojaras "
    "yard roof balcony garden terrace patio porch hof dach balkon terrasse terrass garten jardin jardim giardino "
    "terraza terrazza terraco cortile quintal balcon balcone balcao balkong parveke erkely toit tetto techo telhado "
    "tejado dak tak katto strecha tuin tradgard puutarha zahrada ogrod kert gradina bahce piha dvur podworko udvar "
    "погода вулиця улица двор двір сад дах крыша балкон καιρος αυλη στεγη κηπος μπαλκονι"
)
#: What is filled with acid, told from a battery by name alone.
_CELL = word_set(
    "cell zelle celda celula cella vaso ogniwo ogniwa clanek clanok kenno elemento "
    "банка банки комірка комірки ячеика ячеики елемент элемент клетка στοιχειο 单体 セル"
)
ELECTROLYTE = _CELL | word_set(
    "electrolyte acid elektrolyt elektrolytu elektrolyten elektrolyytti elektrolit elektrolitu saeure saure "
    "electrolito electrolit eletrolito eletrolitica acido acide elettrolita elettrolito elektroliet zuur syra syran "
    "elektrolytt kiselina kislina asit hape elektroluut skabe elektrolits rugstis elektrolitas "
    "sav οξυ киселина 電解液 电解液 "
    "syre kwas kwasu kyselina kyseliny happo электролит "
    "електроліт електроліту електролит электролита кислота кислоти кислоты ηλεκτρολυτης "
    "acidul acidului asidi sava savas azidoa asam acidi asid кіслата حمض اسید חומצה "
    "syren syrens syrans zuren hapon happoa υγρα υγρων"
)
#: Parts of a bank, of which volts are told and nothing else -> the quantity.
PARTS: dict[str, str] = {
    **dict.fromkeys(
        ("block", "blocks", "monobloc", "monoblock", "blok", "bloks", "blokken", "bloki", "bloque", "bloques", "bloc"),
        "block_voltage",
    ),
    **dict.fromkeys(
        ("blocs", "blocco", "blocchi", "bloco", "blocos", "bloky", "blokk", "blokki", "lohko", "lohkot"),
        "block_voltage",
    ),
    **dict.fromkeys(
        ("blokke", "blokker", "monobloque", "monobloco", "monoblocco", "monoblokk", "blk"), "block_voltage"
    ),
    **dict.fromkeys(
        ("cell", "cells", "celda", "celdas", "zelle", "zellen", "cel", "celle", "cella", "celula", "cellule", "ogniwo"),
        "cell_voltage",
    ),
    **dict.fromkeys(
        (
            "celulas",
            "cellules",
            "cellen",
            "celler",
            "ogniwa",
            "vaso",
            "vasos",
            "vasi",
            "clanek",
            "clanky",
            "kenno",
            "kennot",
        ),
        "cell_voltage",
    ),
    **dict.fromkeys(("elemento", "elementos", "elementi", "clanok", "cellak", "celule", "celija"), "cell_voltage"),
    **dict.fromkeys(word_set("celica hucre στοιχειο клетка 单体 セル"), "cell_voltage"),
    **dict.fromkeys(word_set("банка банки комірка комірки ячеика ячеики елемент элемент"), "cell_voltage"),
    **dict.fromkeys(
        word_set(
            "blocul blocuri blocurile blokkok blokkja bloklar blogu blokovi blokow bloku blokai plokid bloecke blocke "
            "blocken blokkene blokea bllok بلوک בלוק plokk blokas μπλοκ блок блоки блока блоків блоков"
        ),
        "block_voltage",
    ),
    **dict.fromkeys(
        word_set(
            "celulele celule hucreler hucresi celije celice sella sellur gelaxka qeliza "
            "келија ћелија ячэика خلية kelia κελι κελια στοιχεια"
        ),
        "cell_voltage",
    ),
    **dict.fromkeys(
        ("midpoint", "mid", "mitte", "mitten", "midden", "milieu", "mezzo", "puoli", "mittpunkt"), "midpoint_voltage"
    ),
    **dict.fromkeys(
        ("mittelpunkt", "mittelabgriff", "middelpunt", "midtpunkt", "midt", "mitt", "keskipiste", "srodek"),
        "midpoint_voltage",
    ),
    **dict.fromkeys(
        ("stred", "half", "halb", "halbe", "halva", "helft", "mitad", "moitie", "metade", "polowa", "polovina"),
        "midpoint_voltage",
    ),
    **dict.fromkeys(
        word_set(
            "mittenabgriff mittelanzapfung mittelabgriff mittabgriff middenaftakking middenaftap mittuttag midtuttak "
            "kozep mijloc keskpunkt vidurys μεσο 中点 中點 "
            "midtudtag keskiotto valiotto odbocka odczep kozeppont polovice meio середина половина"
        ),
        "midpoint_voltage",
    ),
}
#: Two words that are one part of a bank -> the part. Alone the second says as often what is an average.
PARTS_OF_TWO = {
    ("middle", "point"): "midpoint_voltage",
    ("centre", "tap"): "midpoint_voltage",
    ("center", "tap"): "midpoint_voltage",
    ("mid", "tap"): "midpoint_voltage",
    **dict.fromkeys(
        (
            pair
            for point in (
                "punto",
                "ponto",
                "point",
                "punkt",
                "punt",
                "pt",
                "pto",
                "p",
                "toma",
                "presa",
                "prise",
                "tomada",
                "bod",
                "vyvod",
                "odczep",
                "точка",
            )
            for middle in (
                "medio",
                "media",
                "medie",
                "milieu",
                "mezzo",
                "mil",
                "central",
                "centrale",
                "srodkowy",
                "centralny",
                "median",
                "mediane",
                "mediano",
                "intermedio",
                "intermedia",
                "intermediaire",
                "stredni",
                "stredovy",
                "середня",
                "средняя",
            )
            # "punto medio", "medio punto": a letter names a point only before its middle
            for pair in ((point, middle), (middle, point))
            if len(pair[-1]) > 1
        ),
        "midpoint_voltage",
    ),
}
#: Rows of blocks side by side, of which each carries a part of the bank's current.
STRINGS = word_set(
    "string strings strang strange straenge rama ramas ramo ramos rami branche branches stringa stringhe streng "
    "strenge "
    "vetva ramura grana haru zars saka 支路 "
    "strenger gren grenar grener galaz galezie vetev vetve haara haarat "
    # a row, a chain, a leg
    "row rows leg legs fila filas hilera hileras serie series rij rijen reihe reihen kette "
    "ketten rangee rangees rzad "
    "rzedy rada rady lancuch lancuchy rekke rekker raekke raekker rivi rivit ketju ketjut ketting kettingen retezec "
    "retezce гілка гілки ланцюг ветвь ветви цепь ряд ряди ряды"
)
#: Two sides, of a boat or of a shed, each with a half of the bank; alone such a word says nothing ("port" least).
SIDES = word_set(
    "port starboard stbd babord styrbord tribord babor estribor bombordo estibordo boreste bakboord stuurboord "
    "backbord steuerbord left right links rechts gauche droite izquierda derecha esquerda direita sinistra destra "
    "vanster hoger venstre hojre hoyre vasen oikea lewa prawa leva prava bal jobb sol sag"
)
#: What tongues that glue their words glue before what charges: its current, its relay.
CHARGING = word_set("lade laad ladd laddnings lataus laadimis")
#: A place that holds batteries, where the word stands before theirs (in Romance and Slavic tongues), and where it
#: stands behind it ("battery house" may be the house's battery, "battery box" what its acid is in: neither is one).
ROOM_BEFORE = word_set(
    "sala cuarto quarto caseta casinha galpon galpao local locale stanza vano cantina cabina abrigo armazem bodega "
    "cobertizo cave abri remise pomieszczenie piwnica komora szopa mistnost sklep kulna приміщення "
    "кімната сараи погріб "
    "помещение комната погреб"
)
#: What tongues that glue their words glue behind a battery's.
_GLUED_BEHIND = word_set("keller kammer schuppen kelder kjeller kaelder kallare koppi kellari")
ROOM_BEHIND = _GLUED_BEHIND | word_set(
    "room shed hut cellar chamber compartment huette hok schuur berging bod skjul vaja kamra pince"
)
#: A house of several batteries is their room; of one it may be the house's own.
HOUSES, OF_SEVERAL = word_set("casa casetta maison"), word_set("baterias batterie batteries acumuladores accumulatori")
#: What stands by a battery is no part of it: the word before theirs, or behind it.
BY_BEFORE = word_set(
    "by beside near next bei neben ved vid bij naast pres cote presso vicino accanto junto cerca lado perto prop przy "
    "obok vedle pobliz langa aproape pored kraj blizu pri prie hja возле около рядом біля поруч до διπλα κοντα"
)
BY_BEHIND = word_set("mellett kozeleben yaninda yani vieressa lahella juures korval")
BETWEEN = word_set("de da do das dos del della delle dei degli des du la las los the")
#: What is stuck into something, and so hardly hangs in the air.
PROBES = word_set("probe probes sonde sonda fuhler fuehler case pilot sond czujnik")
#: Named after the liquid itself, which "cell" is not.
ACID_ITSELF = ELECTROLYTE - _CELL
BATTERY = word_set(
    "battery batteries batt bat bank banks banco bancos "
    "akku akkus batterie batterien baterie baterii baterija bateria baterias batteri "
    "batteriet batterier accu accus batteria accumulator accumulatore accumulateur akkumulator "
    "akumulator akumulatora "
    "akumulatory akkumulatoren ackumulator akkumulaattori accumulatori accumulateurs acumulador acumuladores "
    "acumulator akumulaator akumulators akumuliatorius aku akumulyator altbatterie parc lead plomo blei plomb piombo "
    "batterij batterijen akkumulatortelep rafgeymir opzs leadacid батерия акумулатор συσσωρευτης 电池 電池 "
    "蓄电池 蓄電池 ハッテリー "
    "chumbo bly akumulatornia akumulatorovna akusto akkusto akkupankki batarya аккумулятор батарея батареи акб "
    "акумулятор аккумуляторы аккумуляторная акумулятори акумуляторна батареі μπαταρια батерија акумулятар "
    "baterai batri بطارية باتری סוללה "
    # what drives a fork lift, which is a truck in many tongues: no lorry's starter
    "truckbatteri truckbatteriet truckbatterie truckakku staplerbatterie staplerakku traktionsbatteri "
    "traktionsbatterie traktionsakku traekbatteri trekkbatteri tractiebatterij heftruckbatterij trukkiakku"
) | frozenset(OF_A_BATTERY)
#: What stores charge or heat: of volts, amps and watts it names a battery's, of warmth it says nothing.
STORES = word_set("accumulo accumuli")
ACID = ELECTROLYTE | BATTERY | {"probe", "case", "block"}
CHARGER = word_set(
    "charger ladegeraet ladegerat lader oplader cargador chargeur caricatore caricabatterie "
    "caricabatterie carregador "
    "prostownik prostownika ladowarka ladowarki nabijecka nabijec laturi lataaja laddare batteriladdare batterilader "
    "acculader akkulader batterielader "
    "batterieladegeraet batterycharger chg charge feed chargerfeed "
    "caricabatteria nabijacka tolto akkutolto incarcator redresor punjac ispravljac polnilnik "
    "usmernik sarj laadija ladetajs ikroviklis 充电器 充電器 "
    "gleichrichter gelijkrichter raddrizzatore redresseur retificador usmernovac likriktare ensretter tasasuuntaaja "
    "зарядне зарядного заряднии зарядное зарядныи зарядка зарядки зу випрямляч выпрямитель φορτιστης "
    "kargagailua pengisi karikuesi hledslutaeki laaier gwefrydd полнач пуњач зарадная зарадны شاحن شارژر מטען"
)
AC = word_set(
    "ac mains grid generator outlet plug socket vac uac iac pac utility netz netzspannung hausanschluss feed pontoon "
    "genset l1 l2 l3 red enchufe steckdose prise secteur reseau rete presa rede tomada gniazdko siec zasuvka sit "
    "halozat retea mreza sebeke vork tinklas δικτυο сеть мережа мрежа розетка "
    "stopcontact lichtnet vagguttag natet elnat pistorasia verkko"
)
#: What flows one way, and is no mains.
DC = word_set(
    "dc vdc udc idc gleichspannung gleichstrom gelijkspanning gelijkstroom likspanning likstrom jaevnstrom "
    "jaevnspaending "
    "likestrom tasavirta tasajannite"
)
#: Other circuits: theirs, unless a battery is named as well ("solar/battery/voltage").
CIRCUITS = (CHARGER - {"charge", "feed", "chargerfeed"}) | word_set(
    "pv solar solaire solare zonne placa panel panels pannello pannelli panneau panneaux paneles paineis array fv "
    "chaine fotovoltaica fotovoltaico fotovoltaik photovoltaik photovoltaique fotowoltaika "
    "solceller solcell solpanel "
    "napelem soncni suncani gunes paike saule ηλιακο сонячнии солнечныи панель панели панелі "
    "fotonapon fogyaszto potrosnja tuketim koormus φορτιο "
    "aurinko aurinkopaneeli zonnepanelen zonnepaneel panele panely solarni load loads consumption supply usb dcdc "
    "converter inverter onduleur "
    "inversor invertitore falownik omvormer "
    "vaxelriktare alternator wind eolica eolienne turbine turbina input output discharge rectifier rect rectificador "
    "wechselrichter wr1 rack psu ups motor laderegler ausgang ausgangs eingang sortie entree salida entrada uscita "
    "ingresso zwischenkreis dclink umrichter steuer bomba pompe pompa pomp pumpe pump wallbox sprezarka compressor "
    "kompressor "
    # what feeds a bench, or holds an alarm up
    "powersupply netzteil labornetzteil netzgeraet alimentatore alimentation fuente zasilacz "
    "zdroj virtalahde voeding "
    "nataggregat stromforsyning навантаження нагрузка інвертор инвертор сонце"
)
#: What moves about on a battery of its own, of lead as a rule.
MACHINES = word_set(
    "car coche voiture wagen van vehicle vehicule starter starterbatterie start arranque demarrage engine motor "
    "tractor tracteur trattore traktor trator traktori truck thruster bow genset moto motorrad tondeuse mower "
    "auto avto bil bilen automobil araba "
    "moped mopo skuter skootteri motorcycle motorbike motorsykkel motorcykel motocykl motocicleta "
    "motocicletta ciclomotor "
    "wheelchair rollstuhl rolstoel rullstol pyoratuoli scootmobiel quad atv snowmobile motoslitta motorkelkka "
    "moottorikelkka snoskuter avviamento cranking crank startti startovaci rozruchowy rozrusznik partida "
    "мопед мотоблок мотоцикл трактор стартер снегоход εκκινησης εκκινηση μιζα"
)
#: What watches a house, with a battery of its own in case the mains fail.
GUARDS = word_set(
    "alarm alarmanlage alarmzentrale alarma alarme allarme poplach poplachove siren sirene sirena riaszto halytys "
    "halytin larm zabezpecenie zabezpeceni valvesignalisatsiooni intercom doorbell klingel sonnette"
)
#: Other things altogether, with or without a battery of their own.
THINGS = MACHINES | word_set(
    "phone telefon telefono telephone telephones handy movil cpu board chip disk router modem "
    "server servidor serveur "
    "serwer fridge nevera frigo kuehlschrank kuhlschrank lodowka kyl freezer gefriertruhe arcon congel frys "
    "stove boiler oven poele kachel horno tank water agua eau wasser vatten woda woda acqua "
    "remote button pila pilas pile piles knopfzelle "
    "thermostat termostat termostato thermostaat termostaatti termosztat termostats termostatas termostatul "
    "термостат θερμοστατης radiator radiateur radiatore radiador heatsink accessory "
    # what a lithium pack moves: bicycles, kick scooters, toys, tools
    "bike bicycle ebike pedelec velo velos fahrrad fiets fietsen bakfiets elfiets bici bicicleta "
    "bicicletta bicikl rower "
    "roweru elektrokolo polkupyora pyora sahkopyora cykel elcykel sykkel elsykkel kerekpar jalgratas "
    "scooter escooter kickscooter eroller elektroroller tretroller elstep trottinette patinete monopattino hulajnoga "
    "hulajnogi kolobezka potkulauta sahkopotkulauta elsparkcykel sparkcykel sparkesykkel lobehjul hoverboard samokat "
    "skateboard drone powerbank powerstation robot vacuum saugroboter stofzuiger aspirateur aspirapolvere aspiradora "
    "odkurzacz vysavac imuri dammsugare stovsuger велосипед самокат літіи литии пилосос "
    "coolant lithium litio litium li lfp lifepo lipo printer nozzle bed bearing casing kitchen "
    "milk milch melk mjolk mleko mleka mlieko leche lait latte leite maito dairy молоко "
    "sea river pond teich pastor weidezaun fence cerca ohradnik energizer energiser "
    "waermepumpe warmepumpe zacier wort"
)
#: What a relay switches elsewhere in a house, beside the things above.
OTHER_LOADS = word_set(
    "pump pumpe pumpen pompe pompa pomp pumppu pumpa cerpadlo bomba szivattyu насос αντλια "
    "lamp lamps lampe lampa lampada lampara lampje lamppu light lights lighting licht lumiere luce luz ljus lys valo "
    "svetlo swiatlo світло свет heater heating heizung heizer chauffage riscaldamento calefaccion ogrzewanie "
    "lammitys varme verwarming irrigation sprinkler valve ventil gate siren kettle radio tv pool sauna"
)
#: What only shows what others measure.
DISPLAYS = word_set(
    "display displays lcd oled screen dashboard dash anzeige bildschirm pantalla tela ecran schermo scherm beeldscherm "
    "skarm skjerm skaerm naytto kijelzo ekran displej obrazovka wyswietlacz afisaj tablou cruscotto prikaz zaslon "
    "gosterge kuvaruutu tablet kiosk hmi οθονη экран дисплей табло екран"
)
#: Last parts of a topic that say nothing.
EMPTY = frozenset(
    {
        "state",
        "value",
        "get",
        "status",
        "reading",
        "valor",
        "wert",
        "val",
        "valeur",
        "valore",
        "sensor",
        "now",
        "wartosc",
    }
)
ORDERS = word_set(
    "set cmnd command cmd switch order orden control befehl write commande comando polecenie rozkaz prikaz schalten "
    "opdracht kommando ordre ordem ordine bevel ohjaus sterowanie povel req request desired wanted zet "
    "stel ustaw nastav "
    "команда наказ керування управление"
)
STATES = word_set(
    "state stat status relaystate estado zustand feedback get etat stan stato stav tila tilstand toestand status "
    "position posizione posicion posicao pozycja poloha asento lage laget stallning stilling stand schaltzustand "
    # what comes back from it
    "ritorno retorno retour return ruckmeldung rueckmeldung meldung rm terug terugmelding ater "
    "aterforing aterkoppling "
    "tilbakemelding tilbagemelding potwierdzenie takaisin readback fb fbk reported actual confirm confirmed "
    "стан состояние статус положення положение"
)
#: What is named so beside a charger tells whether it is fed, wherever it takes its orders.
RELAYS = word_set(
    "relays contactors relees reles releuri relaer releer kontaktory styczniki przekazniki stykace teleruttori "
    "switch relay contactor relais rele relee schuetz schutz schalter contacteur contattore stycznik przekaznik "
    "stykac rly rela relae releet releu kontaktori contator teleruttore "
    "magneetschakelaar magneskapcsolo kapcsolo relej sklopnik relejs kontaktors kontaktorius 继电器 リレー "
    "interruptor interruttore schakelaar kontaktor реле контактор пускач пускатель вимикач выключатель ρελε "
    "role rolesi rolesinin kontaktoru errelea relai rofi релеј рэле مرحل رله ממסר"
)
#: What a relay is for that feeds a charger, by another word than the charger's own.
CHARGES = CHARGING | word_set(
    "charging recharge recharging ladowania ladowanie nabijeni nabijanie nabijania opladning opladen laden laadt "
    "lading ladning latauksen toltes toltesi incarcare incarcarii punjenje punjenja polnjenje polnjenja laadimine "
    "laadimise carica ricarica recarga sarji equalise equalize equaliser equalizer equalising equalizing equalisation "
    "eq egalisation ausgleich ausgleichsladung wyrownawcze wyrownawczego ecualizacion equalizacao equalizzazione "
    "tasausvaraus utjamning utjevning udligning vereffening kiegyenlito vyrovnavaci egalizare esitleme"
)
#: Said of what is closed: a topic that ends so beside a charger tells whether it is.
ENGAGED = word_set(
    "on active engaged energized enabled ein aktiv eingeschaltet enclenche actif marche activo conectado encendido "
    "inserito acceso attivo ligado zalaczony wlaczony zapnuto aan actief"
)


def _cuts(kinds: Mapping[str, str], shortest: int, never: frozenset[str]) -> dict[str, str]:
    """Return the beginnings of words that begin words of one kind alone, and are no known word: ``corr``, ``leist``."""
    able: dict[str, set[str]] = {}
    for word, kind in kinds.items():
        for length in range(shortest, len(word)):
            able.setdefault(word[:length], set()).add(kind)
    begun = {word[:length] for word in never for length in range(shortest, len(word) + 1)}
    return {cut: next(iter(found)) for cut, found in able.items() if len(found) == 1 and cut not in begun}


#: What begins as a word does that says something else, and what is short for it all the same.
_NO_CUT = word_set(
    "lamp lampo mill milli kilo ther therm thermo stru powe volta gala putere degc mdeg extra ventil carga char ping "
    "home "
    "homer tent tents cerr hita korr folt cure stro spri sica nape napa virt pote inten prost carre carica gleich"
)
_SHORT_FOR = {
    **dict.fromkeys(("vlt", "nap"), "voltage"),
    **dict.fromkeys(("cur", "crt", "cor", "str", "strm", "crr"), "current"),
    **dict.fromkeys(("pot", "pwr", "pow", "lst", "eff", "vyk"), "power"),
    **dict.fromkeys(("went", "tuul", "flak"), "fan"),
}
_OTHER_WORDS = (
    DISPLAYS
    | AIR
    | ELECTROLYTE
    | BATTERY
    | CIRCUITS
    | THINGS
    | NOT_OURS
    | AC
    | STRINGS
    | RELAYS
    | STATES
    | ORDERS
    | EMPTY
) | frozenset(PARTS)
#: Words cut short -> kind of quantity: of the four that a bank is measured by, and of its fan.
CUT: dict[str, str] = {
    cut: kind
    for cut, kind in (
        *_cuts(
            {
                word: kind
                for kind in ("voltage", "current", "power", "temperature")
                for word in _FULL[kind].split()
                if word.isascii()
            },
            4,
            (
                _OTHER_WORDS
                | _NO_CUT
                | frozenset(" ".join(_FULL[kind] for kind in ("hydrogen", "gravity", "fan", "door")).split())
            ),
        ).items(),
        *_cuts(dict.fromkeys(_FULL["fan"].split(), "fan"), 5, _OTHER_WORDS | _NO_CUT).items(),
        *_SHORT_FOR.items(),
    )
    if cut not in WORDS and cut not in _NO_CUT
}
MEASURED = _MEASURED_IN_FULL | frozenset(cut for cut, kind in CUT.items() if kind != "fan")
CHARGER |= frozenset(_cuts(dict.fromkeys(CHARGER, "charger"), 5, (_OTHER_WORDS - CHARGER) | _NO_CUT)) | CHARGING
#: Two words written as one are split only where both are known and long enough to be no accident.
SHORTEST = 3
GLUE = frozenset(
    word
    for table in (
        WORDS,
        ACID,
        AIR,
        AC,
        CHARGER,
        CIRCUITS,
        THINGS,
        NOT_OURS,
        {"string", "pack", "mid", "out", "mitte"},
        _GLUED_BEHIND,
    )
    for word in table
    if len(word) >= SHORTEST
)
GLUE = (GLUE - CHARGING) | frozenset(word for word in (*PARTS, *STRINGS, *RELAYS) if len(word) > SHORTEST)
WORDS |= CUT
#: Behind anything at all these are a word of their own (``cellartemp``); shorter or commoner ends are not.
#: So do these, which German glues to whatever they belong to (``LADERAUMLUFTTEMP``).
GERMAN = (
    "spannung",
    "strom",
    "leistung",
    "temperatur",
    "luft",
    "saeure",
    "saure",
    "batterie",
    "batt",
    "mitten",
    "netz",
    "wasserstoff",
    "lade",
)
#: What German glues to a contact, and the contacts (``LADERAUMTUERZU``).
STATED = ("ein", "aus", "zu", "auf", "offen")
SWITCHED = ("tuer", "tur", "luefter", "lufter", "schuetz", "schutz")
TAILS = ("volts", "volt", "amps", "watts", "temp", "temperature")
ENDING, SHORTEST_STEM = 4, 6
#: How Greek and Cyrillic letters are written in Latin ones, where they are not written as what they stand for alone.
LATIN: dict[str, tuple[str, ...]] = {
    letters: tuple(latin.split())
    for letters, latin in (
        *(("μπ", "mp b"), ("ντ", "nt d"), ("ου", "ou u"), ("ευ", "ev ef eu"), ("αυ", "av af au")),
        *(("α", "a"), ("β", "v b"), ("γ", "g"), ("δ", "d"), ("ε", "e"), ("ζ", "z"), ("η", "i h"), ("θ", "th")),
        *(("ι", "i"), ("κ", "k"), ("λ", "l"), ("μ", "m"), ("ν", "n"), ("ξ", "x ks"), ("ο", "o"), ("π", "p")),
        *(("ρ", "r"), ("σ", "s"), ("ς", "s"), ("τ", "t"), ("υ", "y u i"), ("φ", "f ph"), ("χ", "x h ch")),
        *(("ψ", "ps"), ("ω", "o w"), ("а", "a"), ("б", "b"), ("в", "v"), ("г", "g h"), ("д", "d"), ("е", "e")),
        *(("ж", "zh z"), ("з", "z"), ("и", "i y"), ("к", "k"), ("л", "l"), ("м", "m"), ("н", "n"), ("о", "o")),
        *(("п", "p"), ("р", "r"), ("с", "s"), ("т", "t"), ("у", "u"), ("ф", "f"), ("х", "kh h"), ("ц", "ts c")),
        *(("ч", "ch c"), ("ш", "sh s"), ("щ", "shch sch"), ("ы", "y i"), ("ъ", " "), ("ь", " "), ("э", "e")),
        *(("ю", "yu ju iu"), ("я", "ya ja ia"), ("і", "i"), ("є", "ye ie e"), ("ґ", "g"), ("ј", "j")),
    )
}
#: Latin letters -> the Greek or Cyrillic word that is written with them, if they are no word already.
KNOWN_WORDS = frozenset(WORDS) | _OTHER_WORDS | ACID | frozenset(PARTS)
ARTICLES = word_set("to the a an der dem den die das het l el il lo le au aux al alla all")
#: What carries a letter as its label; what carries an "a" as the first of several: behind these a "v" is volts.
LABELLED = frozenset(
    {"probe", "probes", "string", "sensor", "bank", "block", "tank", "stream", "lamp", "phase", "channel"}
)
LETTERED = frozenset(PARTS) | STRINGS
#: What may follow a current as noun.
NOUNS = ACID | AC | CIRCUITS | EMPTY | {"string", "total", "sensor", "net", "amps", "now", "avg", "average", "main"}
