"""Headings of luminaire schedules in German, by field. Common practice, no source."""

from __future__ import annotations

from collections.abc import Mapping

# A heading under several fields has several meanings and is asked. "" holds headings of things that no field keeps.
WORDS: Mapping[str, str] = {
    "reference": "Leuchten-Nr; Leuchten-Nummer; Leuchtennummer; Leuchte Nr; Leuchten-ID; Leuchten-Kennung; Lfd Nr; Lfd-Nr; "
                 "Kennz; Kennzeichen; Kennzeichnung; BMK; Betriebsmittelkennzeichen; Betriebsmittel; AKS; Anlagenkennzeichen; "
                 "Objekt-Nr; Inventar-Nr; Inv-Nr; Bezeichner; Kennung; Referenz; Pos; Pos-Nr; Position; Positionsnummer; Nr; "
                 "Nummer; Bezeichnung; Leuchte; Leuchtenbezeichnung; Name; Bez; Code; Leuchtenkennung",
    "type": "Typ; LT; Leuchtentyp; Leuchten-Typ; Leuchtenart; Leuchtentype; Typ-Nr; Typenbezeichnung; Typbezeichnung; "
            "Leuchten-Code; Leuchtencode; Typencode; Bezeichnung; Leuchte; Leuchtenbezeichnung; Pos; Pos-Nr; Modell; "
            "Fabrikat/Typ; Bez; Beschreibung; Produkt; Code; LV-Pos",
    "quantity": "Stk; Stück; Stückzahl; St; Menge; Anzahl; Anz; Leuchtenanzahl; Anzahl Leuchten; Summe; Gesamt",
    "place": "Ort; Einbauort; Montageort; Standort; Lage; Position; Ortsbezeichnung; Ortskennzeichen",
    "building": "Geb; Gebäude; Bau; Bauteil; Haus; Gebäudeteil; Block; Trakt; Flügel; Bereich; Liegenschaft; Halle; "
                "Abschnitt; Bauabschnitt; Objekt; Standort",
    "floor": "Geschoss; Geschoß; Gesch; Etage; Ebene; Stock; Stockwerk; Eb; Et; Bereich",
    "room": "Raum; Raum-Nr; Raumnr; Raumnummer; R-Nr; Raumbezeichnung; Raumname; Zimmer; Zimmer-Nr; Raum-ID; Raumkennung; "
            "Bereich; Zone; Raumbez",
    "grid": "Raster; Achse; Achsen; Achsraster; Rasterachse; Gebäudeachse; Achsbezeichnung; Lage; Position; Koordinate; "
            "Koordinaten; Achsfeld; Pos; Rasterfeld",
    "board": "UV; Verteiler; Verteilung; Unterverteilung; Unterverteiler; UV-Nr; Lichtverteiler; Verteiler-Nr; HV; "
             "Lichtverteilung; Einspeisung; Schaltschrank; Verteilerkasten",
    "circuit": "Stromkreis; Stromkreis-Nr; Stromkr; SK; SK-Nr; Kreis; Kreis-Nr; Stromkreisnummer; Endstromkreis; Abgang; "
               "Sicherung; LS; Leitungsschutzschalter; Stk-Nr; Beleuchtungsstromkreis; Phase; SiBe; Abgang-Nr; Sich",
    "power_w": "Leistung; Leist; Anschlussleistung; Nennleistung; Systemleistung; Leuchtenleistung; P; Watt; Anschlusswert; "
               "Leistungsaufnahme; Pges; Bemessungsleistung; LED-Leistung; Modulleistung; Ausgangsleistung",
    "current_ma": "Ausgangsstrom; Ausgangsstr; Strom; Iaus; I aus; LED-Strom; Betriebsstrom; Konstantstrom; Stromeinstellung; "
                  "Bestromung; Nennstrom; Treiberstrom; Vorwärtsstrom; Modulstrom; Flussstrom; Durchlassstrom; "
                  "eingestellter Strom; Ia; Iled; Sollstrom",
    "voltage_window": "Vorwärtsspannung; Vorwärtsspg; Flussspg; Flussspannung; Uaus; U aus; Ausgangsspannung; Ausgangsspg; "
                      "Spannungsbereich; LED-Spannung; Modulspannung; Spannungsfenster; Uf; Durchlassspannung; Spannung; Spg; "
                      "Ausgangsspannungsbereich; Ua; Uled; Vorwärtsspannungsbereich",
    "voltage_min_v": "Umin; Spannung min; Min Spannung; Mindestspannung; Uaus min; Uf min",
    "voltage_max_v": "Umax; Spannung max; Max Spannung; Maximalspannung; Uaus max; Uf max; Max Ausgangsspannung",
    "voltage_v": "Konstantspannung",
    "driver": "Betriebsgerät; Betriebsgeräte; BG; EVG; EVG-Typ; Konverter; Treiber; LED-Treiber; LED-Betriebsgerät; "
              "Vorschaltgerät; VG; Netzteil; Betriebsgerätetyp; Konvertertyp; LED-Konverter; Treibertyp; LED-Netzteil; Trafo",
    "serial": "Serien-Nr; Seriennummer; Seriennr; SN; Fabrikations-Nr; Serien-Nr EVG; Geräte-Nr; Fabriknummer",
    "gear": "Funktion; Geräteart; EVG-Nr; EVG-Funktion",
    "supply": "Netz; Netzspannung; Versorgung; Versorgungsspannung; Eingang; Eingangsspannung; Spannung; Spg; Nennspannung; "
              "Anschlussspannung; Ue; Un; Uein; Einspeisung; Bemessungsspannung; Netzform; Netzart",
    "protection_class": "Schutzkl; Schutzklasse; SK; Schutzkl I II III; Schkl; Isolationsklasse; S-Klasse",
    "ip": "Schutzart; IP; IP-Schutzart; IP-Klasse; Schutzgrad; IP-Schutz; Schutzart IP; IP-Code",
    "control": "Steuerung; Ansteuerung; Lichtsteuerung; Regelung; Dimmung; Schnittstelle; Steuerart; Dimmart; Protokoll; "
               "Dimmbar; Dimmen; Schaltung; Betriebsart; Lichtmanagement; Schaltungsart",
    "line": "Linie; Linien-Nr; DALI-Linie; DALI-Linien-Nr; DALI-Bus; DALI-Strang; Strang; Buslinie; Bus-Nr; DALI-Kanal; "
            "DALI-Kreis; DALI-Gateway; DALI-Segment; Busleitung; DALI-Steuergerät",
    "address": "Adr; Adresse; DALI-Adr; DALI-Adresse; KA; Kurzadresse; Kurzadr; EVG-Adresse; Geräteadresse; DALI-Nr; EVG-Nr; "
               "Teilnehmer; Teilnehmer-Nr; DALI-Kurzadresse; Adressnummer; DALI-ID; EVG-Adr; Busadresse",
    "line_address": "Linie/Adresse; Linie/Adr; DALI-Linie/Adr; Linie/Adresse DALI; DALI Linie/Adresse; Bus/Adresse; "
                    "DALI-Kennung; Strang/Adresse",
    "groups": "Gruppe; Gruppen; Gr; Grp; DALI-Gruppe; DALI-Gruppen; DALI-Gr; Gruppe(n); Gruppen-Nr; Gruppennummer; "
              "Leuchtengruppe; Gruppenzuordnung; Schaltgruppe; Lichtgruppe",
    "scenes": "Szenen; Szene; Szenenwerte; DALI-Szenen; Lichtszenen; Szenenzuordnung",
    "limits": "Dimmgr; Dimmgrenzen; Dimmgrenze; Min/Max; Dimmbereich; Regelbereich; Grenzen; Min/Max Dimmwert; "
              "Dimmgrenzwerte; Grenzwerte",
    "min_level": "Min Wert; Minimalwert; Min; Minimum; Min Dimmwert; DALI-Min; Min Pegel; Min Helligkeit; Min Dimmlevel; "
                 "untere Dimmgrenze; Mindestwert; Grundhelligkeit",
    "max_level": "Max Wert; Maximalwert; Max; Maximum; Max Dimmwert; DALI-Max; Max Pegel; Max Helligkeit; Max Dimmlevel; "
                 "obere Dimmgrenze; Dimmwert; Höchstwert",
    "power_on_level": "Einschaltwert; Einschaltpegel; Power-on-Level; Netzwiederkehr; Wert bei Netzwiederkehr; "
                      "Einschalthelligkeit",
    "system_failure_level": "Systemfehlerwert; Systemfehlerpegel; Busfehlerwert; Wert bei Systemfehler; Systemausfallwert; "
                            "Busausfall; Wert bei Busausfall",
    "fade_time": "Überblendzeit; Dimmzeit; Fadezeit; Fade-Zeit",
    "fade_rate": "Dimmgeschwindigkeit; Stufengeschwindigkeit; Dimmrate; Fade-Rate",
    "extended_fade": "Erweiterte Überblendzeit; Erweiterte Fade-Zeit",
    "curve": "Kennlinie; Dimmkurve; Dimmkennlinie",
    "coolest_k": "kälteste Farbtemperatur; Farbtemperatur max; Max Farbtemperatur; Tc kalt; Farbtemperatur; Lichtfarbe; "
                 "kühlste Farbtemperatur",
    "warmest_k": "wärmste Farbtemperatur; Farbtemperatur min; Min Farbtemperatur; Tc warm; Farbtemperatur; Lichtfarbe",
    "emergency_mode": "DS/BS; BS/DS; Schaltungsart; SiBe; Notlicht; Notlichtart; Notbeleuchtung; Dauer/Bereitschaft; "
                      "Dauerschaltung/Bereitschaftsschaltung; Sicherheitsbeleuchtung; Notbetrieb; Betriebsart; Schaltart; "
                      "Sicherheitslicht; SiBel; SB; Schaltung; Betriebsart Notlicht; SL",
    "emergency_supply": "Notstromversorgung; Notlichtversorgung; Ersatzstromquelle; Sicherheitsstromquelle; Notlichtsystem; "
                        "Versorgung Notlicht; EB/ZB; ZB/EB; Batterie; Stromquelle; Versorgungsart",
    "duration": "Betriebsdauer; Nennbetriebsd; Nennbetriebsdauer; Bemessungsbetriebsdauer; Überbrückungszeit; Notlichtdauer; "
                "Dauer; Notbetriebsdauer; Autonomiezeit; Std; Stunden; Bemessungsbetriebsd; Notlichtzeit; Überbrückungsdauer",
    "central": "ZB-Kreis/Nr; ZB-Kreis-Nr; ZB; ZB-Nr; ZB-Adresse; ZB-Adr; SiBe-Adr; SiBe-Adresse; SiBe-Kreis/Nr; "
               "Notlicht-Adresse; Notlicht-Adr; Zentralbatterie; Zentralbatterie Kreis/Adresse; ZB-Kreis/Adresse; "
               "ZB-Kreis/Adr; SiBe-Nr; CPS; LPS; Zentralbatterie-Adresse; SV-Kreis/Nr; ZB-Kreis; SiBe-Kreis; Notlichtkreis; "
               "ZB-Stromkreis; SiBe; BSV-Kreis/Nr; Batterie; Notlicht Kreis/Nr; Endstromkreis SiBe",
    "central_circuit": "ZB-Kreis; Zentralbatterie-Kreis; ZB-Stromkreis; SiBe-Kreis; SiBe-Stromkreis; Notlichtkreis; "
                       "Notlichtstromkreis; Endstromkreis SiBe",
    "central_address": "ZB-Leuchten-Nr; ZB-Leuchtenadresse; Notlicht-Adresse; Notlicht-Adr; SiBe-Leuchtenadresse; "
                       "Leuchtenadresse; ZB-Nr; SiBe-Nr",
    "emergency_level_percent": "Notlichtpegel; Notlichtniveau; Notlichtwert; Notlichtlevel; Notlichtstrom in %; "
                               "Lichtstrom Notbetrieb",
    "dc_level_percent": "DC-Pegel; DC-Level; DC-Wert; DC-Lichtwert; Wert bei DC; Pegel bei DC; DC-Niveau",
    "emergency_current_ma": "Notlichtstrom; Strom Notbetrieb; Notbetriebsstrom",
    "emergency_power_w": "Notlichtleistung; Leistung Notbetrieb; Notbetriebsleistung",
    "function_test_days": "Funktionstest; Intervall Funktionstest; Funktionstest-Intervall; Funktionsprüfung",
    "duration_test_weeks": "Betriebsdauertest; Dauertest; Intervall Betriebsdauertest; Betriebsdauerprüfung",
    "test_delay_min": "Testverzögerung; Prüfverzögerung",
    "prolong_s": "Nachlaufzeit; Verlängerungszeit; Nachlauf",
    "": "Bemerkung; Bemerkungen; Bem; Anmerkung; Anmerkungen; Hinweis; Hersteller; Fabrikat; Lichtstrom; Länge; Höhe; "
        "Montagehöhe; Montageart; Montage; Abmessungen; Maße; Plan; Plan-Nr; Zeichnung; Datum; Stand; Status; Artikel-Nr; "
        "Art-Nr; Bestell-Nr; Preis; Einbaudatum; Geprüft; Prüfer; Leuchtmittel; Lampe; Abstrahlwinkel; Gewicht; Farbe; "
        "Sensor; Index; Ra; Farbwiedergabe; Monteur; Inbetriebnahme; Gewerk; Kostenstelle",
}
