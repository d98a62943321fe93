"""Encodings of office machines: recognised together with the headings, or asked; Python's own codecs wrote the bytes."""

import pytest

from geozone.errors import InputError
from geozone.places.codepages import ENCODINGS, recognise
from geozone.places.encodings import decode
from geozone.places.sites import SiteReading, read_sites

LISTS = {
    "shift_jis": "番号,名称,緯度,経度,消費電力\n1,中央公園,35.1,139.2,66\n2,駅前スポーツ広場,35.2,139.3,80\n",
    "euc_jp": "番号,名称,緯度,経度,消費電力\n1,中央公園,35.1,139.2,66\n2,市役所,35.2,139.3,80\n",
    "cp949": "번호,이름,위도,경도,소비전력\n1,중앙공원,37.1,127.2,66\n2,시청,37.2,127.3,80\n",
    "gb18030": "编号,名称,纬度,经度,功率\n1,中央公园,31.1,121.2,66\n2,站前广场,31.2,121.3,80\n",
    "big5": "編號,名稱,緯度,經度,負荷\n1,中央公園,25.1,121.2,66\n2,車站,25.2,121.3,80\n",
    "cp1250": "Numer;Nazwa;Szerokość;Długość;Moc\n1;Łąkowa;52,1;21,2;66\n2;Źródlana;52,2;21,3;80\n",
    "iso8859_2": "Numer;Nazwa;Szerokość;Długość;Moc\n1;Łąkowa;52,1;21,2;66\n2;Źródlana;52,2;21,3;80\n",
    "cp852": "Číslo;Název;Šířka;Délka;Příkon\n1;Dvořákova;50,1;14,2;66\n2;Žižkov;50,2;14,3;80\n",
    "cp1251": "Номер;Название;Широта;Долгота;Мощность\n1;Парк;55,1;37,2;66\n2;Улица Ленина;55,2;37,3;80\n",
    "koi8_r": "Номер;Название;Широта;Долгота;Мощность\n1;Парк;55,1;37,2;66\n2;Улица Ленина;55,2;37,3;80\n",
    "cp1253": "Αριθμός;Όνομα;Πλάτος;Μήκος;Ισχύς\n1;Πλατεία;38,1;23,2;66\n2;Οδός Ερμού;38,2;23,3;80\n",
    "cp1254": "Sıra no;Ad;Enlem;Boylam;Güç\n1;Şişli Çarşı;41,1;29,2;66\n2;Beşiktaş;41,2;29,3;80\n",
    "mac_roman": "Número;Nombre;Latitud;Longitud;Potencia\n1;Peñón de la Cañada;40,1;-3,2;66\n2;Plaza Colón;40,2;-3,3;80\n",
    "cp1252": "Número;Nom;Latitude;Longitude;Puissance\n1;Forêt de Compiègne;49,1;2,2;66\n2;Église;49,2;2,3;80\n",
    "cp850": "Nr;Straße;Breite;Länge;Leistung\n1;Müllerweg;51,1;9,2;66\n2;Übergang;51,2;9,3;80\n"}


@pytest.mark.parametrize("encoding", LISTS)
def test_a_list_in_each_encoding_is_read_whole(tmp_path, encoding):
    text = LISTS[encoding]
    (tmp_path / "a.csv").write_bytes(text.encode(encoding))
    got = read_sites(tmp_path / "a.csv")
    rows = [line.replace(",", ".").split(";") if ";" in line else line.split(",") for line in text.splitlines()[1:]]
    assert got.sites.site_id.tolist() == ["1", "2"] and got.sites.load_w.tolist() == [66, 80]
    assert got.sites["name"].tolist() == [row[1] for row in rows]
    assert got.sites.lat_deg.tolist() == [float(row[2]) for row in rows]
    assert any("not UTF-8; read as" in n for n in got.notes)


SHORT = [("cp1254", "Şişli Çarşı"), ("cp1250", "Łódź"), ("cp1250", "Dvořákova"), ("cp1252", "Café"), ("cp1252", "Müller"),
         ("cp1251", "Улица Ленина"), ("cp1253", "Οδός Ερμού"), ("cp932", "中央公園"), ("cp949", "중앙공원"), ("gb18030", "中央公园"),
         ("mac_roman", "Forêt de Compiègne"), ("cp1252", "Skärgård"), ("cp1252", "Þingvellir, Reykjavík"), ("cp1252", "CHÂTEAU D'EAU"),
         ("cp1252", "Plaça de l'Àngel"), ("cp1252", "Sjøgata Ålesund"), ("cp850", "Größe ÄÖÜ"), ("cp1252", "Jack’s – bar"),
         ("cp1250", "Fő út"), ("cp1250", "Kőbánya"), ("cp1254", "Iğdır"), ("cp1252", "São João"), ("mac_roman", "Straße"),
         ("cp1250", "Toruń"), ("cp1252", "España"), ("cp1251", "Київ Хрещатик")]


@pytest.mark.parametrize("encoding, name", SHORT)
def test_one_name_under_plain_headings_is_recognised_or_asked_never_misread(encoding, name):
    data = f"id,lat,lon,name\n1,41.1,29.1,{name}\n".encode(encoding)
    found, rivals = recognise(data)
    right = [n for n in (found, *rivals) if data.decode(n, errors="replace").endswith(f"{name}\n")]
    assert right, (found, rivals)
    assert right[0] == found or rivals


def test_most_of_these_short_lists_need_no_question():
    asked = [name for encoding, name in SHORT if recognise(f"id,lat,lon,name\n1,41.1,29.1,{name}\n".encode(encoding))[1]]
    assert len(asked) <= 3, asked


def test_what_is_in_doubt_is_asked_and_every_answer_can_be_stated(tmp_path):
    data = "id,lat,lon,name\n1,41.1,29.1,Şişli\n".encode("cp1254")
    (tmp_path / "a.csv").write_bytes(data)
    with pytest.raises(InputError, match="cannot be told for certain") as raised:
        read_sites(tmp_path / "a.csv")
    assert "line 2" in raised.value.where and "Şişli" in raised.value.value and "Þiþli" in raised.value.value
    names = [n for n in ENCODINGS if f'encoding = "{n}"' in raised.value.next_step]
    read = [read_sites(tmp_path / "a.csv", SiteReading(encoding=n)).sites["name"][0] for n in names]
    assert "Şişli" in read and len(names) >= 2


def test_the_note_on_the_encoding_is_said_when_the_run_is_refused(tmp_path):
    (tmp_path / "a.csv").write_bytes("Straße;Größe\nMüller;5\nSchön;6\n".encode("cp1252"))
    with pytest.raises(InputError) as raised:
        read_sites(tmp_path / "a.csv")
    assert "Note: a.csv: not UTF-8; read as CP1252" in str(raised.value)
    (tmp_path / "b.csv").write_bytes("Straße;Größe\n".encode("cp1252"))  # and where it ends earlier
    with pytest.raises(InputError) as raised:
        read_sites(tmp_path / "b.csv")
    assert "no rows under them" in str(raised.value) and "read as CP1252" in str(raised.value)


def test_long_lists_cost_no_more(tmp_path):
    text = "id,lat,lon,name\n" + "".join(f"{i},52.1,21.0,Main {i}\n" for i in range(30_000)) + "x,52,21,Źródlana Łąkowa\n"
    assert recognise(text.encode("cp1250")) == ("cp1250", ())
    assert decode(text.encode("cp1250"), "a.csv")[0] == text


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("of", ["shift_jis", "cp1252", "cp1251"])
def test_utf16_without_a_mark_in_any_script(of, encoding):
    text, notes = decode(LISTS[of].encode(encoding), "a.csv")
    assert text == LISTS[of] and "UTF-16" in notes[0]
