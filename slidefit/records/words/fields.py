"""What a column of a sale file can mean, and the headings that say so: one table for readers and documents."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass


@dataclass(frozen=True)
class Field:
    """A meaning that a column can have.

    ``phrases`` are headings in small letters, units and punctuation left out, the surest first; ``many`` says
    that several columns may carry it.
    """

    name: str
    meaning: str
    phrases: tuple[str, ...]
    many: bool = False


def _phrases(text: str) -> tuple[str, ...]:
    """Split a list of headings at the bars."""
    return tuple(part.strip() for part in text.split("|"))


FIELDS: tuple[Field, ...] = (
    Field(
        "date",
        "day of the sale",
        _phrases(
            "sale date|date of sale|sale day|auction date|saledate|date sold|sold date|trade date"
            "|transaction date|auction day|market date|date|fecha|fecha de venta|date de vente|datum|data"
            "|data da venda|day|report date|report end date|week ending|week ended|week end"
            "|week ending date|week beginning|week starting|week of|wk ending|wk of|wk end|quarterly"
            "|quarter|quarter ending|half year|half year ending|sold on|sold|period|report begin date"
            "|reporting date|timestamp|datetime|date time|epoch"
        ),
    ),
    Field(
        "year",
        "year of the sale",
        _phrases(
            "year|yr|sale year|ano|annee|jahr|calendar year|season|crop year|marketing year|season year"
        ),
    ),
    Field(
        "month",
        "month of the sale, by name or number",
        _phrases("month|mo|mon|sale month|mes|mois|monat|month name|month of sale"),
    ),
    Field(
        "week",
        "number of the week in the year",
        _phrases("week|wk|week no|week number|sale week|wk no|week num|semana|sale wk"),
    ),
    Field(
        "market",
        "place of sale",
        _phrases(
            "market|market name|market location name|market location|barn|sale barn|auction barn|auction"
            "|auction name|auction market|saleyard|sale yard|saleyard name|yard|stockyard|stockyards"
            "|exchange|location|sale location|facility|livestock market|mercado|plaza|place|venue|barn name"
            "|where sold|sale site|site|salebarn|auction house|name of auction|name of market"
            "|commission company|sale name|slug name|town|city|sale"
        ),
    ),
    Field(
        "region",
        "state or province, which stands in for the place of sale when there is none",
        _phrases("state|region|province|area|district|prov|county"),
    ),
    Field(
        "sex",
        "class or sex of the calves",
        _phrases(
            "sex|class|reprod|sex class|gender|sexo|animal sex|class name|cattle class|sexe|classe"
            "|geschlecht|sex of calves|sex code|calf sex|type of cattle|cattle type|kind|kind of cattle"
            "|animal class|clase|steer heifer"
        ),
    ),
    Field(
        "category",
        "category, commodity or description, which tells what is no feeder calf",
        _phrases(
            "category|commodity|type|type1|type2|type 1|type 2|species|livestock type|animal type|animal"
            "|animals|stock|stock type|classification|description|desc|lot description|categoria|item"
            "|livestock|group|group name|livestock class|section|report section|subclass|cattle"
            "|commodity group|sale prefix|sale type|prefix|tipo|livestock category|categorie|kategorie"
        ),
        many=True,
    ),
    Field(
        "breed",
        "breed, read only for dairy breeds",
        _phrases("breed|breed type|raza|breeds|breed code"),
        many=True,
    ),
    Field(
        "pregnancy",
        "pregnancy stage or age, which tells bred stock",
        _phrases(
            "pregnancy stage|pregnancy|bred|bred stage|age|stage|preg|quality grade name|quality grade"
            "|offspring weight est"
        ),
        many=True,
    ),
    Field("frame", "frame size", _phrases("frame|frame size|frame score|size|frame grade|frm")),
    Field(
        "muscle",
        "muscle grade",
        _phrases("muscle|muscle grade|muscling|muscle score|muscle thickness|thickness|musc"),
    ),
    Field(
        "grade",
        "frame and muscle grade together",
        _phrases(
            "grade|usda grade|feeder grade|grades|cattle grade|frame and muscle|frame muscle|grade code"
            "|calf grade|grado"
        ),
    ),
    Field(
        "head",
        "number of head",
        _phrases(
            "head|head count|headcount|hd|no hd|no head|nohead|number of head|no of head|num head|hd count"
            "|head ct|hd ct|n head|count|qty|cnt|n|quantity|number sold|head sold|no sold|number|no|cabezas"
            "|cabeza|cabecas|tetes|anzahl|stuck|numero|nbr head|nbr|num|hds|animals sold|no of animals"
            "|no animals|lot size|number head|total head|lot head|heads"
        ),
    ),
    Field(
        "weight",
        "mean weight per head",
        _phrases(
            "avg wt|average weight|avg weight|mean weight|mean wt|weight avg|wt avg|ave wt|ave weight"
            "|avg wgt|avg lbs|average wt|idv wgt|individual weight|weight per head|wt per head|wt hd"
            "|weight head|weight hd|avg live weight|average live weight|live weight|liveweight|pay weight"
            "|pay wt|weight|wt|wgt|wt lbs|weight lb|mean lb|avg lb|avg pounds|peso|peso promedio|poids"
            "|poids moyen|gewicht|peso medio|base weight|base wt|body weight|sale weight|lwt|avg lwt"
            "|weight each|wt each|estimated weight|net wt|net weight|weight value|weight amount|weight est"
            "|avg kg"
        ),
    ),
    Field(
        "weight_range",
        "range or class of weight",
        _phrases(
            "wt range|weight range|weight class|weight group|wt class|wt group|weight category"
            "|weight bracket|weights|weight break|class weight|weight classes|rango de peso|weight span"
            "|wgt range|range wt|weight interval|weight band|cwt class|size class|wt grp|rango peso|wt cat"
            "|weight cat"
        ),
    ),
    Field(
        "weight_low",
        "lightest",
        _phrases(
            "avg weight min|weight low|low weight|min weight|weight min|low wt|wt low|min wt|wt min"
            "|minimum weight|weight from|wt from|from lb|lightest|weight lower|lower weight|weight minimum"
        ),
    ),
    Field(
        "weight_high",
        "heaviest",
        _phrases(
            "avg weight max|weight high|high weight|max weight|weight max|high wt|wt high|max wt|wt max"
            "|maximum weight|weight to|wt to|to lb|heaviest|weight upper|upper weight|weight maximum"
        ),
    ),
    Field(
        "class_low",
        "lower edge of the weight class",
        _phrases("weight break low|weight class low|class low|break low"),
    ),
    Field(
        "class_high",
        "upper edge of the weight class",
        _phrases("weight break high|weight class high|class high|break high"),
    ),
    Field(
        "lot_weight",
        "weight of the whole lot",
        _phrases(
            "lot wgt|lot weight|lot wt|lotwgt|total weight|total wt|tot wt|tot weight|total lbs"
            "|total pounds|tot lbs|total wgt|gross weight|gross wt|tot wgt|group weight|total live weight"
            "|pounds sold|lbs sold|lbs total|net lbs|scale weight|total kg"
        ),
    ),
    Field(
        "price",
        "mean price",
        _phrases(
            "avg price|average price|price avg|weighted average price|wtd avg price|weighted avg price"
            "|weighted average|wtd avg|wt avg price|mean price|ave price|price average|price mean|avg bid"
            "|price|sale price|price per cwt|sold price|selling price|bid|bid price|final price"
            "|hammer price|cash price|price paid|unit price|precio|precio promedio|price received|prix"
            "|prix moyen|preis|preco|preco medio|steer price|avg prc|prc|prices|dollars|usd|avg cwt"
            "|price value|price amount|market price|quote|price quote"
        ),
    ),
    Field("average", "an average, of price when nothing else is", _phrases("average|avg|mean|ave")),
    Field(
        "price_range",
        "range of price",
        _phrases(
            "price range|range of prices|prices range|range|rango de precios|price spread|price span"
            "|bid range"
        ),
    ),
    Field(
        "price_low",
        "lowest price",
        _phrases(
            "avg price min|price low|low price|min price|price min|minimum price|lowest price|price from"
            "|price lo|low|min|price minimum|from price|precio minimo|bottom price|price bottom|low bid|lo"
        ),
    ),
    Field(
        "price_high",
        "highest price",
        _phrases(
            "avg price max|price high|high price|max price|price max|maximum price|highest price|price to"
            "|price hi|high|max|price maximum|to price|precio maximo|top price|price top|high bid|hi|top"
        ),
    ),
    Field(
        "price_head",
        "price per head, never read as price per hundredweight",
        _phrases(
            "price per head|price head|dollars per head|per head|value per head|price hd|head price|per hd"
            "|avg per head|value hd|price per hd|price each|price animal"
        ),
    ),
    Field(
        "amount",
        "money of the whole lot; over its weight it is the price where no price is told",
        _phrases(
            "total price|amount|total amount|gross|total dollars|extended|revenue|total value|gross sales"
            "|total sale|total gross|gross amount|gross dollars|lot total|total sales|sale amount|extension"
            "|lot amount|total paid|total money|lot price total"
        ),
    ),
    Field(
        "price_unit",
        "unit of price, row by row",
        _phrases(
            "price unit|unit|units|unit of sale|price units|price basis|unit of price|uom|price uom"
            "|pricing unit|price method|sold by"
        ),
    ),
    Field(
        "weight_unit", "unit of weight, row by row", _phrases("weight unit|wt unit|weight units|weight uom")
    ),
    Field("currency", "currency, row by row", _phrases("currency|currency code|moneda")),
    Field(
        "remarks",
        "remarks, which become traits",
        _phrases(
            "remarks|remark|traits|comments|comment|notes|note|annotation|lot desc|condition|quality"
            "|comments commodity|lot comments|lot notes|weaning status|vac program|health program"
            "|attributes|observations|special notes|observaciones|flesh|flesh condition|descriptor"
            "|descriptors|value added program"
        ),
        many=True,
    ),
    Field(
        "status",
        "preliminary or final",
        _phrases(
            "final ind|status|report status|final|preliminary|prelim|final indicator|report type"
            "|prelim final|version"
        ),
    ),
    Field(
        "date_precision",
        "how closely the date is known",
        _phrases("date precision"),
    ),
    Field(
        "flags",
        "flags of an earlier reading",
        _phrases("flags"),
    ),
    Field(
        "private",
        "names of people, never kept",
        _phrases(
            "seller|buyer|consignor|consigner|owner|name|ranch|ranch name|producer|purchaser|customer"
            "|sold to|bidder|phone|address|email|contact|seller name|buyer name|consignor name"
            "|producer name|vendor|vendedor|comprador|owner name|agent|buyer no|buyer number|seller no"
            "|representative|rep|account|family|origin"
        ),
        many=True,
    ),
    Field(
        "unused",
        "not read",
        _phrases(
            "lot|lot no|lotno|lot number|lot id|lot num|id|index|reportid|report id|slug id|slug|tag|pen"
            "|ring|receipts|vintage|published date|published|freight|dressing|weight collect|yield grade"
            "|offspring weight|report narrative|market type|office name|office code|office state"
            "|office city|market location city|market location state|report title|sale no|sale number|batch"
            "|source row|source file|source|reason"
            "|value|color|color1|color2|colour|horns"
            "|bcs|thriftiness|fat score|fat|time|row|row no|no of lots|lots|change|chg|pct change"
            "|percent change|last week|last year|year ago|week ago|chg from last week|dressing pct|total"
            "|commission|yardage|shrink|shrink pct|miles|load|url|volume|open interest|code|market code|seq"
            "|sequence|record|transaction|transaction id|uuid|ticket|ticket no|invoice|order|unnamed"
            "|region code|begin date|unit count|estimated value|net|net proceeds"
        ),
        many=True,
    ),
)
FIELD_NAMES: tuple[str, ...] = tuple(field.name for field in FIELDS)
MANY_FIELDS = frozenset(field.name for field in FIELDS if field.many)
IGNORED_FIELDS = frozenset({"private", "unused"})
PRICE_ORDER = ("price", "price_range", "price_low", "price_high", "price_head")  # the surest first
PRICE_FIELDS = frozenset(PRICE_ORDER)
WEIGHT_FIELDS = frozenset(
    {"weight", "weight_range", "weight_low", "weight_high", "class_low", "class_high", "lot_weight"}
)
MEASURE_FIELDS = PRICE_FIELDS | WEIGHT_FIELDS | {"head", "average"}
DATE_FIELDS = frozenset({"date", "year", "month", "week"})

PHRASES: dict[str, tuple[str, int]] = {}
for _field in FIELDS:
    for _rank, _phrase in enumerate(_field.phrases):
        PHRASES.setdefault(_phrase, (_field.name, _rank))

_GLUED: dict[str, tuple[str, int]] = {}
for _phrase, _meaning in PHRASES.items():
    _GLUED.setdefault(_phrase.replace(" ", ""), _meaning)

# words of a heading that show a list from outside the custom of US pounds and dollars
FOREIGN_WORDS = frozenset(
    _phrases(
        "fecha|clase|sexo|cabezas|cabeza|peso|precio|categoria|raza|mercado|semana|moneda|classe|cabecas"
        "|preco|prix|poids|tetes|categorie|semaine|datum|preis|gewicht|anzahl|stuck|kategorie|geschlecht"
        "|saleyard"
    )
)

# names of the tidy record, and other words that --map accepts beside the field names
MAP_ALIASES: dict[str, str] = {
    "sale_date": "date",
    "weight_lb": "weight",
    "weight_low_lb": "weight_low",
    "weight_high_lb": "weight_high",
    "price_cwt": "price",
    "price_low_cwt": "price_low",
    "price_high_cwt": "price_high",
    "traits": "remarks",
    "class": "sex",
    "total_weight": "lot_weight",
    "ignore": "unused",
    "skip": "unused",
}


def normal(text: str) -> str:
    """Return a heading in small letters, words apart, punctuation out.

    >>> normal("LotWgt"), normal("Avg. Wt."), normal("market_location_name"), normal("No. Hd.")
    ('lot wgt', 'avg wt', 'market location name', 'no hd')
    """
    apart = re.sub(r"(?<=[a-z])(?=[A-Z][a-z])", " ", text)
    return " ".join(re.sub(r"[^\w\s#$%]|_", " ", apart.replace("'", "")).lower().split())


def unaccented(text: str) -> str:
    """Return a text without accents.

    >>> unaccented("categoría"), unaccented("têtes")
    ('categoria', 'tetes')
    """
    if text.isascii():
        return text
    return "".join(sign for sign in unicodedata.normalize("NFKD", text) if not unicodedata.combining(sign))


def field_of(text: str) -> tuple[str, int] | None:
    """Return the field that a heading names and how sure it is (0 the surest), or None.

    >>> field_of("Avg Price")[0], field_of("Head Count")[0], field_of("mystery")
    ('price', 'head', None)
    """
    plain = unaccented(normal(text)).replace("#", "no ").strip()
    return PHRASES.get(" ".join(plain.split())) or _GLUED.get(plain.replace(" ", ""))
