"""Whole lists as people of many countries keep them, and lists that hold something else than they seem to."""

import pytest

from geozone.errors import InputError
from geozone.jobs import steps
from geozone.jobs.job import read_job
from geozone.places.sites import SiteReading, read_sites


def listed(tmp_path, text, **reading):
    (tmp_path / "a.csv").write_bytes(text.encode("utf-8"))
    return read_sites(tmp_path / "a.csv", SiteReading(**reading))


# id, name, lat, lon, zone, load. Words read against dictionaries of map terms; from memory.
HEADINGS = {
    "French": ("N° armoire", "Nom", "Latitude (°)", "Longitude (°)", "Fuseau horaire", "Puissance (W)"),
    "Spanish": ("Código", "Nombre", "Latitud", "Longitud", "Zona horaria", "Potencia [W]"),
    "Portuguese": ("Código", "Nome", "Latitude", "Longitude", "Fuso horário", "Potência (W)"),
    "Italian": ("Codice", "Nome", "Latitudine", "Longitudine", "Fuso orario", "Potenza (W)"),
    "German": ("Nr.", "Bezeichnung", "Breite (°)", "Länge (°)", "Zeitzone", "Leistung [W]"),
    "Dutch": ("Kast", "Naam", "Breedtegraad", "Lengtegraad", "Tijdzone", "Vermogen (W)"),
    "Polish": ("Numer", "Nazwa", "Szerokość geograficzna", "Długość geograficzna", "Strefa czasowa", "Moc [W]"),
    "Czech": ("Číslo", "Název", "Zeměpisná šířka", "Zeměpisná délka", "Časové pásmo", "Příkon [W]"),
    "Hungarian": ("Azonosító", "Név", "Szélesség", "Hosszúság", "Időzóna", "Teljesítmény (W)"),
    "Russian": ("Номер", "Название", "Широта", "Долгота", "Часовой пояс", "Мощность, Вт"),
    "Ukrainian": ("Номер", "Назва", "Широта", "Довгота", "Часовий пояс", "Потужність (Вт)"),
    "Greek": ("Κωδικός", "Όνομα", "Γεωγραφικό πλάτος", "Γεωγραφικό μήκος", "Ζώνη ώρας", "Ισχύς (W)"),
    "Turkish": ("Sıra No", "Adı", "Enlem", "Boylam", "Saat dilimi", "Güç (W)"),
    "Japanese": ("番号", "名称", "緯度", "経度", "タイムゾーン", "消費電力（W）"),
    "Chinese": ("编号", "名称", "纬度（°）", "经度（°）", "时区", "功率(W)"),
    "Traditional Chinese": ("編號", "名稱", "緯度", "經度", "時區", "負荷"),
    "Korean": ("번호", "이름", "위도", "경도", "시간대", "소비전력(W)"),
    "two languages": ("番号 / ID", "名称 / Name", "緯度 / Latitude", "経度 / Longitude", "Time zone", "Load (W)")}


@pytest.mark.parametrize("language", HEADINGS)
@pytest.mark.parametrize("end, mark", [("\n", "."), ("\r\n", ",")])
def test_headings_of_each_language(tmp_path, language, end, mark):
    rows = [("K7", "Am Markt", f"-35{mark}25", f"141{mark}5", "Australia/Adelaide", "1 250"),
            ("K8", "Am Wall", f"-35{mark}5", f"141{mark}75", "", "66")]
    got = listed(tmp_path, end.join(";".join(row) for row in [HEADINGS[language], *rows]) + end)
    sites = got.sites
    assert sites.site_id.tolist() == ["K7", "K8"] and sites["name"].tolist() == ["Am Markt", "Am Wall"], got.notes
    assert sites.lat_deg.tolist() == [-35.25, -35.5] and sites.lon_deg.tolist() == [141.5, 141.75]
    assert sites.legal_zone_given.tolist() == ["Australia/Adelaide", ""] and sites.load_w.tolist() == [1250, 66]


@pytest.mark.parametrize("heading, street", [("Adresse", "Am Markt 5"), ("Straße", "Am Markt"), ("住所", "東京都千代田区1-1"),
                                             ("Street", "Mill Road"),
                                             ("Address", "5 Mill Road, Renmark SA 5341"), ("улица", "Ленина 5")])
def test_a_list_of_addresses_says_so_and_what_to_do(tmp_path, heading, street):
    quoted = '"' + street + '"'
    with pytest.raises(InputError, match="addresses and no positions") as raised:
        listed(tmp_path, f"Nr,{heading},PLZ\n1,{quoted},5341\n2,{quoted},5341\n")
    assert street in raised.value.value and raised.value.rule and "two columns, lat and lon" in raised.value.next_step
    got = listed(tmp_path, f"Nr,{heading},PLZ,lat,lon\n1,{quoted},5341,-35,141\n2,{quoted},5341,-35.1,141\n")  # as it says
    assert len(got.sites) == 2


@pytest.mark.parametrize("rows, said", [(5000, "exactly 5,000 rows"), (1000, "exactly 1,000 rows"), (4999, None),
                                        (65_535, "as many as a sheet")])
def test_a_round_number_of_rows_is_asked_about(tmp_path, rows, said):
    got = listed(tmp_path, "id,lat,lon\n" + "".join(f"{i},-35.{i % 997:03d},141\n" for i in range(rows)))
    found = [n for n in got.notes if "rows" in n]
    assert (said in found[0] if said else not found) and len(got.sites) == rows


def test_a_comma_that_is_separator_and_decimal_mark(tmp_path):
    with pytest.raises(InputError, match="comma stands between the columns") as raised:
        listed(tmp_path, "id,lat,lon\n1,-35,25,141,5\n2,-35,5,141,75\n")
    assert "row 2" in raised.value.where and "semicolons" in raised.value.next_step
    for text in ("id;lat;lon\n1;-35,25;141,5\n2;-35,5;141,75\n", "id,lat,lon\n1,-35.25,141.5\n2,-35.5,141.75\n",
                 'id,lat,lon\n1,"-35,25","141,5"\n2,"-35,5","141,75"\n'):  # each of the three ways out
        assert listed(tmp_path, text).sites.lat_deg.tolist() == [-35.25, -35.5]


@pytest.mark.parametrize("word", ["Total", "Summe:", "Итого", "合計"])
def test_a_row_of_totals_is_rejected_as_such(tmp_path, word):
    got = listed(tmp_path, f"id,lat,lon,watt\na,-35,141,66\nb,-35.1,141,66\n\n{word},,,132\n")
    assert got.rejects["reason"].tolist() == ["a row of totals, not a site: no position"] and got.read == 3


def test_title_blank_rows_thousands_and_units(tmp_path):
    got = listed(tmp_path, "\r\nLighting cabinets, state of May\r\n\r\nNo.;Lat (°);Lon (°);Load (W)\r\n1;-35,25°;141,5°;1.250,5\r\n"
                           "2;-35,5°;141,75°;66\r\n")
    assert got.sites.lat_deg.tolist() == [-35.25, -35.5] and got.sites.load_w.tolist() == [1250.5, 66]
    assert got.sites["row"].tolist() == [5, 6]


@pytest.mark.parametrize("line, where", [('[columns]\nlat = "nope"\n', "line 6"), ('[columns]\n\nlegal_zone = "nope"\n', "line 7"),
                                         ('crs = "EPSG:1"\n', "line 5"),
                                         ('[shared]\nlat_deg = -35\nlon_deg = 141\nlegal_zone = "Nowhere"\n', "line 8")])
def test_a_wrong_column_zone_or_system_is_said_with_its_line_in_the_job(tmp_path, line, where):
    (tmp_path / "a.csv").write_text("id,lat,lon\na,-35,141\nb,-35.1,141\n")
    (tmp_path / "job.toml").write_text('[job]\ntitle = "a"\nyear = 2027\nsites = "a.csv"\n' + line
                                       + '[dark]\naltitude_deg = -4\n[tolerance]\ndark_min = 5\nexcess_min = 10\n')
    job = read_job(tmp_path / "job.toml")
    with pytest.raises(InputError) as raised:
        steps.read(job)
        steps.shared_setting(job, None, None)
    assert f"job.toml, {where}" in str(raised.value), str(raised.value)


@pytest.mark.parametrize("one, two", [("-35,533;141,933", "-35,540;141,940"), ("-35.533;141.933", "-35,540;141,940"),
                                      ("-35.533;141.933", "-35,54012;141,94012"), ("-35 533;141 933", "-35 540;141 940"),
                                      ("-35.533;141.933", "-35,54;141,94"), ("-35,533;141,933", "-35,54;141")])
def test_three_decimals_are_no_thousands_under_a_heading_of_degrees(tmp_path, one, two):
    got = listed(tmp_path, f"id;Breite;Länge\na;{one}\nb;{two}\n")
    assert got.sites.lat_deg[0] == -35.533 and got.sites.lon_deg[0] == 141.933 and got.sites.lat_deg[1] < -35.5
    assert len(got.sites) == 2 and (any("three decimals" in n for n in got.notes) or "141,94012" not in two)


def test_thousands_of_metres_stay_thousands(tmp_path):
    got = listed(tmp_path, "id;X;Y\na;564,700;5,709,400\nb;565,150;5,710,150\n", crs="EPSG:25832")
    assert got.sites.lat_deg[0] == pytest.approx(51.53, abs=0.02)
    got = listed(tmp_path, "id;lon;lat\na;564,700;5,709,400\nb;565,150;5,710,150\n", crs="EPSG:25832")
    assert got.sites.lat_deg[0] == pytest.approx(51.53, abs=0.02)
