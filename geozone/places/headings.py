"""What people write above a column, in many languages, and what it means."""

from __future__ import annotations

import re
import unicodedata

#: Headings, lower case without accents and signs, in English, German, French, Spanish, Italian, Portuguese, Dutch.
#: Each tuple is a rank: a heading of an earlier rank wins over one of a later rank.
HEADINGS: dict[str, tuple[str, ...]] = {
    "lat": ("lat latitude latitudee7 late7 latitudee6 late6 latdeg latitudedeg latdd latdecimal latitudedecimal latwgs84 wgs84lat gpslat "
            "gpslatitude "
            "latgps breite breitengrad geographischebreite geogrbreite geobreite latitud latitudine breedte "
            "breedtegraad lattitude siteslat sitelat sitelatitude polelat latitudewgs84 decimallatitude",),
    "lon": ("lon long lng longitude longitudee7 lone7 longe7 lnge7 longitudee6 lone6 londeg longitudedeg londd lonwgs84 wgs84lon wgs84long "
            "gpslon gpslong gpslng "
            "gpslongitude longps lange laenge langengrad laengengrad geographischelange geographischelaenge "
            "geogrlange geogrlaenge geolange geolaenge longitud longitudine lengte lengtegraad longditude longdeg "
            "longdd sitelon sitelng sitelong sitelongitude polelon longitudewgs84 decimallongitude",),
    "y": ("northing northings nordwert hochwert norte nord nordant noord ycoord ycoordinate ykoordinate coordy "
          "coordenaday coordinatay coordonneey ycoordinaat pointy utmy utmn utmnorthing gridy mgan northingm "
          "rdy ylambert93 yl93 ymga ymeters ym yutm gridnorthing nordrechts", "y", "n hw"),
    "x": ("easting eastings ostwert rechtswert este est ost oost xcoord xcoordinate xkoordinate coordx coordenadax "
          "coordinatax coordonneex xcoordinaat pointx utmx utme utmeasting gridx mgae eastingm rdx xlambert93 xl93 "
          "xmga xmeters xm xutm grideasting", "x", "e rw"),
    "position": ("latlon latlong latlng latitudelongitude lonlat longlat lnglat position coordinates coords coord "
                 "coordinate koordinaten koordinate coordonnees coordenadas coordenada coordinata coordinaten "
                 "coordinaat gps gpsposition gpskoordinaten gpscoordinates gpscoords gpsposicion geopoint geopoint2d "
                 "posizione posicion posicao positie wkt pointwkt geomwkt wktgeom geometrywkt wktgeometry wktpoint "
                 "xy latlonwgs84 wkb ewkb wkbgeometry ewkt geojson geomgeojson geojsongeometry stgeom stasgeojson",
                 "geom geometry thegeom shape geometrie geometria point geo location standort lage ort"),
    "site_id": ("siteid site sitenumber siteno sitecode",
                "cabinetid switchid assetid assetno assetnumber cabinetno cabinetnumber cabinet poleid poleno "
                "polenumber lampid lightid luminaireid feederid columnid columnno schrankid schranknr schaltschrank "
                "schaltstellennr schaltstelle mastnr mastnummer leuchtennr armoire armoireid numeroarmoire cuadro "
                "numerocuadro codigocuadro quadro quadroid numeroquadro kast kastnr kastnummer mastid lichtmastnr "
                "switch unitid deviceid stationid locationid",
                "id ident identifier kennung kennzeichen identifiant identificador identificativo identificatie key "
                "uid uuid",
                "nr no num number nummer numero code codigo codice ref reference referenz lfdnr",
                "objectid fid gid ogcfid pk rowid featureid"),
    "name": ("name sitename site namesite title label bezeichnung nom nombre nome naam libelle denominacion "
             "denominazione denominacao omschrijving benennung designation",
             "description beschreibung descripcion descrizione descricao location standort address adresse direccion "
             "indirizzo endereco adres place strasse street rue calle via rua straat"),
    "legal_zone": ("legalzonegiven", "legalzone", "timezone tz tzid tzname zeitzone ianazone ianatimezone iana fuseauhoraire husohorario "
                   "zonahoraria fusoorario fusohorario tijdzone clockzone zoneid legaltime",
                   "zone zona zones clock uhr zonename zonenname"),
    "load_w": ("loadw watt watts wattage totalwatt totalwatts connectedloadw powerw leistungw leistungwatt puissancew "
               "potenciaw potenzaw vermogenw lastw loadwatts loadwatt loadkw kw powerkw leistungkw puissancekw "
               "potenciakw potenzakw vermogenkw connectedloadkw lastkw kilowatt kilowatts totalkw anschlussleistungkw "
               "anschlussleistungw totalw installedkw installedw",
               "load power connectedload leistung anschlussleistung puissance potencia potenza vermogen potencial "
               "carga charge carico last belasting installedpower ratedpower",
               "w"),
}

#: Further languages: meaning to words of the first rank ("more" = the rank of ids by number). Besides being headings
#: they tell in which language, and so in which encoding, a list was written. From memory, read against dictionaries
#: of map terms; a word of two meanings stands in none.
LANGUAGES: dict[str, dict[str, str]] = {
    "pl": {"lat": "szerokość szerokość_geograficzna szer_geogr szer_geograficzna",
           "lon": "długość_geograficzna dł_geogr dług_geogr dł_geograficzna długość", "position": "współrzędne położenie",
           "site_id": "numer_szafy nr_szafy numer_słupa nr_słupa", "number": "numer identyfikator lp",
           "name": "nazwa", "place": "opis ulica adres lokalizacja", "legal_zone": "strefa_czasowa", "load_w": "moc_w moc_kw",
           "load": "moc moc_zainstalowana obciążenie"},
    "cs": {"lat": "zeměpisná_šířka šířka zem_šířka", "lon": "zeměpisná_délka délka zem_délka", "position": "souřadnice poloha",
           "number": "číslo označení", "name": "název jméno", "place": "popis ulice adresa umístění",
           "legal_zone": "časové_pásmo", "load_w": "výkon_w příkon_w", "load": "výkon příkon"},
    "hu": {"lat": "szélesség földrajzi_szélesség", "lon": "hosszúság földrajzi_hosszúság", "position": "koordináták",
           "number": "azonosító sorszám szám", "name": "név megnevezés", "place": "cím utca leírás", "legal_zone": "időzóna",
           "load_w": "teljesítmény_w", "load": "teljesítmény"},
    "ru": {"lat": "широта географическая_широта шир", "lon": "долгота географическая_долгота дол",
           "position": "координаты координата", "site_id": "номер_шкафа номер_опоры номер_щита код_объекта",
           "number": "номер ид код идентификатор № №п/п", "name": "название имя наименование",
           "place": "адрес описание улица место местоположение", "legal_zone": "часовой_пояс временная_зона",
           "load_w": "мощность_вт мощность_квт", "load": "мощность нагрузка"},
    "uk": {"lat": "широта", "lon": "довгота", "position": "координати", "number": "номер код", "name": "назва",
           "place": "адреса опис вулиця", "legal_zone": "часовий_пояс", "load_w": "потужність_вт", "load": "потужність"},
    "el": {"lat": "γεωγραφικό_πλάτος πλάτος γεωγρ_πλάτος", "lon": "γεωγραφικό_μήκος μήκος γεωγρ_μήκος",
           "position": "συντεταγμένες θέση", "number": "αριθμός κωδικός αα α/α", "name": "όνομα ονομασία",
           "place": "διεύθυνση περιγραφή οδός τοποθεσία", "legal_zone": "ζώνη_ώρας", "load_w": "ισχύς_w",
           "load": "ισχύς φορτίο"},
    "tr": {"lat": "enlem", "lon": "boylam", "position": "koordinat koordinatlar konum", "site_id": "pano_no direk_no",
           "number": "numara sıra_no kimlik kod", "name": "ad adı isim", "place": "adres açıklama sokak cadde yer",
           "legal_zone": "saat_dilimi", "load_w": "güç_w", "load": "güç yük"},
    "ja": {"lat": "緯度 北緯", "lon": "経度 東経", "position": "座標 位置 緯度経度", "site_id": "設備番号 灯具番号 管理番号 柱番号",
           "number": "番号 識別番号 コード", "name": "名称 名前 施設名", "place": "住所 所在地 場所 説明",
           "legal_zone": "タイムゾーン 標準時", "load_w": "電力w 消費電力w", "load": "電力 消費電力 負荷 容量"},
    "zh": {"lat": "纬度 緯度 北纬", "lon": "经度 經度 东经", "position": "坐标 座標 位置 经纬度 經緯度",
           "site_id": "灯杆编号 设备编号 配电箱编号",
           "number": "编号 編號 序号 序號 代码 号码", "name": "名称 名稱 名字", "place": "地址 描述 街道 地点 地點",
           "legal_zone": "时区 時區", "load_w": "功率w", "load": "功率 负荷 負荷 负载"},
    "ko": {"lat": "위도", "lon": "경도", "position": "좌표 위치", "site_id": "관리번호 등주번호 분전함번호",
           "number": "번호 식별자 코드 일련번호", "name": "이름 명칭 시설명", "place": "주소 설명 장소 도로명",
           "legal_zone": "시간대 표준시", "load_w": "전력w 소비전력w", "load": "전력 소비전력 부하 용량"},
}
_WORD_RANKS = {"lat": ("lat", 0), "lon": ("lon", 0), "position": ("position", 0), "site_id": ("site_id", 1),
               "number": ("site_id", 3), "name": ("name", 0), "place": ("name", 1), "legal_zone": ("legal_zone", 2),
               "load_w": ("load_w", 0), "load": ("load_w", 1)}


def plain(heading: object) -> str:
    """A heading without case, accents, signs and blanks: "Länge (°)" is "lange"; letters of any script stay."""
    text = re.sub(r"\bn[°º]", "no", str(heading).casefold())
    if not text.isascii():
        text = text.translate(_LETTERS)
        text = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return re.sub(r"[\W_]", "", text)


# letters that do not fall apart into a plain one and an accent
_LETTERS = str.maketrans({"ß": "ss", "ł": "l", "ø": "o", "đ": "d", "ı": "i", "æ": "ae", "œ": "oe", "№": "nr"})

_RANKS = {what: {word: rank for rank, words in enumerate(ranks) for word in words.split()}
          for what, ranks in HEADINGS.items()}
_OF_LANGUAGE: dict[str, set[str]] = {}
for _language, _meanings in LANGUAGES.items():
    for _key, _words in _meanings.items():
        _what, _number = _WORD_RANKS[_key]
        for _word in map(plain, _words.split()):
            _RANKS[_what].setdefault(_word, _number)
            _OF_LANGUAGE.setdefault(_word, set()).add(_language)

#: A unit behind a heading or alone in a row under the headings.
UNIT = re.compile(r"\s*[\[(]?\s*(?:°|º|deg|degrees?|grad|grados|degrés?|dd|dms|m|metres?|meters?|ft|us ?ft|w|watts?|kw|va|kva|wgs ?84|"
                  r"度|Вт|кВт)\s*[\])]?\s*", re.IGNORECASE)


def rank_of(heading: object, what: str) -> int | None:
    """How well a heading names a meaning, 0 best: the whole heading, or what stands before a bracket or unit."""
    ranks, heading = _RANKS[what], str(heading)
    texts = [heading, re.sub(r"[\[(（【].*?[\])）】]", "", heading),
             re.sub(r"[_\s]+(?:in )?(?:deg|dd|°|m|ft|us ?ft|ft ?us|feet|met(?:re|er)s?|wgs ?84)$", "", heading, flags=re.IGNORECASE)]
    if "/" in heading and not any(plain(heading) in words for words in _RANKS.values()):
        # two languages in one heading: "緯度 / Latitude"; lat/lon is one of its own
        texts += [part for part in heading.split("/") if len(plain(part)) > 1 or not part.isascii()]
    found = [ranks[p] for p in map(plain, texts) if p in ranks]
    if what == "site_id" and not found:  # N° armoire, No. of pole
        rest = re.sub(r"^(?:numero|num|no|nr|number)(?:of|de|del|der)?", "", plain(heading))
        found = [ranks[rest]] if ranks.get(rest) == 1 else []
    if what == "name" and not found and plain(heading).endswith("name"):
        return 0  # ParkName, Standortname
    return min(found) if found else None


def is_heading(cell: object) -> bool:
    """Whether a text is a heading that geozone knows, for positions, ids, names, zones or loads."""
    return isinstance(cell, str) and bool(cell.strip()) and any(rank_of(cell, what) is not None for what in _RANKS)


_ADDRESS = frozenset(map(plain, (
    "address street streetname housenumber postcode zip zipcode postalcode city town adresse straße strasse straßenname hausnummer plz "
    "ort stadt rue voie codepostal ville commune dirección direccion calle cp ciudad municipio indirizzo via cap città comune "
    "endereço rua cep cidade adres straat postcode plaats ulica kod_pocztowy miasto miejscowość adresa ulice psč město cím utca "
    "irányítószám адрес улица индекс город διεύθυνση οδός πόλη sokak cadde 住所 所在地 郵便番号 地址 街道 주소 도로명 우편번호").split()))


def is_address(heading: object) -> bool:
    """Whether a heading names an address or a part of one."""
    return plain(heading) in _ADDRESS


def languages_of(cells) -> dict[str, int]:
    """How many of these cells are headings of each of the further languages."""
    count: dict[str, int] = {}
    for cell in cells:
        for text in {plain(cell), plain(re.sub(r"[\[(（].*?[\])）]", "", str(cell)))}:
            for language in _OF_LANGUAGE.get(text, ()):
                count[language] = count.get(language, 0) + 1
    return count
