"""Headings of luminaire schedules in Dutch, by field. Common practice, no source."""

from __future__ import annotations

from collections.abc import Mapping

# A heading under several fields has several meanings and is asked. "" holds headings of things that no field keeps.
WORDS: Mapping[str, str] = {
    "reference": "Referentie; Armatuurnummer; Armatuur nr; Armatuur-nr; Armatuurnr; Codering; Kenmerk; Label; Id; "
                 "Armatuur-id; Volgnr; Volgnummer; Nr; Nummer; Armatuur; Code; Positie; Pos; Naam; Aanduiding; Benaming; "
                 "Omschrijving",
    "type": "Type armatuur; Armatuurtype; Armatuur type; Armatuurcode; Typenummer; Armatuur; Omschrijving; Code; Model; "
            "Typecode; Aanduiding; Benaming",
    "quantity": "Aantal; St; Stuks; Aantal armaturen; Hoeveelheid; Totaal",
    "place": "Plaats; Locatie; Positie; Montageplaats; Plek",
    "building": "Gebouw; Geb; Bouwdeel; Blok; Vleugel; Toren; Locatie; Zone; Gebied",
    "floor": "Verdieping; Verd; Bouwlaag; Etage; Laag; Niveau; Zone",
    "room": "Ruimte; Ruimtenr; Ruimte nr; Ruimtenummer; Kamer; Kamernr; Kamernummer; Vertrek; Lokaal; Ruimtenaam; Zone; "
            "Locatie; Gebied",
    "grid": "Stramien; Stramienlijn; As; Assen; Raster; Coördinaten; Positie; Locatie; Pos",
    "board": "Verdeler; Verdeelkast; Verdeelinrichting; Kast; Onderverdeler; Kastnr; Groepenkast; Paneel; Gevoed vanuit; VK; "
             "Voeding",
    "circuit": "Eindgroep; Groep; Groepnr; Groepsnummer; Groepnummer; Kring; Kringnr; Stroomkring; Circuit; Lichtgroep; Fase; "
               "Gr; Voedingsgroep",
    "power_w": "Vermogen; Verm; P; Opgenomen vermogen; Systeemvermogen; Aansluitvermogen; Nominaal vermogen; Wattage; "
               "LED-vermogen; Uitgangsvermogen",
    "current_ma": "Stroom; Uitgangsstroom; LED-stroom; Aanstuurstroom; Iuit; I uit; Stroominstelling; Ingestelde stroom; "
                  "Driverstroom; Nominale stroom",
    "voltage_window": "Voorwaartse spanning; Doorlaatspanning; Uitgangsspanning; Spanningsbereik; LED-spanning; Uuit; U uit; "
                      "Spanning; Vf bereik",
    "voltage_min_v": "Min spanning; Minimale spanning; Spanning min",
    "voltage_max_v": "Max spanning; Maximale spanning; Spanning max",
    "voltage_v": "Constante spanning",
    "driver": "Driver; Voorschakelapparaat; VSA; Drivertype; Type driver; EVSA; Voeding; LED-driver; Transformator; Trafo",
    "serial": "Serienr; Serienummer; Serie nr",
    "gear": "Functie",
    "supply": "Voeding; Netspanning; Voedingsspanning; Net; Spanning; Ingang; Ingangsspanning; Aansluitspanning; "
              "Nominale spanning",
    "protection_class": "Klasse; Beschermingsklasse; Isolatieklasse; Veiligheidsklasse; Elektrische klasse",
    "ip": "IP-klasse; IP-waarde; Beschermingsgraad; IP; IP-graad",
    "control": "Sturing; Aansturing; Regeling; Besturing; Dimming; Protocol; Dimbaar; Bediening; Lichtregeling; Schakeling",
    "line": "Lijn; DALI-lijn; Lijnnr; Bus; DALI-bus; DALI-kanaal; DALI-lus; Lus; Buslijn; DALI-gateway",
    "address": "Adres; DALI-adres; Kort adres; Adresnr; Short adres; DALI-nr; Driveradres; Adr",
    "line_address": "Lijn/adres; Bus/adres; DALI-lijn/adres",
    "groups": "Groep; Groepen; DALI-groep; DALI-groepen; Groep(en); Groepnr; Groepsnummer; Lichtgroep; Gr; Groepnummer; Zone; "
              "Schakelgroep",
    "scenes": "Scènes; Scene; Scenes; Lichtscènes; Scènewaarden; DALI-scènes",
    "limits": "Grenzen; Dimgrenzen; Min/max; Dimbereik; Regelbereik",
    "min_level": "Min niveau; Minimumniveau; Minimum; Min; Minimaal niveau; Min dimniveau",
    "max_level": "Max niveau; Maximumniveau; Maximum; Max; Maximaal niveau; Max dimniveau; Dimniveau",
    "power_on_level": "Inschakelniveau; Niveau bij inschakelen; Niveau bij spanningsterugkeer",
    "system_failure_level": "Systeemfoutniveau; Niveau bij systeemfout; Niveau bij busfout",
    "fade_time": "Fadetijd; Overgangstijd; Dimtijd",
    "fade_rate": "Fadesnelheid; Dimsnelheid",
    "extended_fade": "Uitgebreide fadetijd",
    "curve": "Dimcurve; Curve",
    "coolest_k": "Koudste kleurtemperatuur; Max kleurtemperatuur; Kleurtemperatuur; Lichtkleur",
    "warmest_k": "Warmste kleurtemperatuur; Min kleurtemperatuur; Kleurtemperatuur; Lichtkleur",
    "emergency_mode": "Nood; Noodverlichting; Noodverl; Permanent/niet-permanent; P/NP; Noodfunctie; Noodtype; Modus; "
                      "Noodbedrijf; Continu/niet-continu; Schakelwijze; Veiligheidsverlichting; Noodmodus",
    "emergency_supply": "Noodvoeding; Centraal/decentraal; Decentraal/centraal; Batterij; Accu; Noodbron; Type noodvoeding",
    "duration": "Autonomie; Autonomietijd; Duur; Noodduur; Brandduur; Uren; Nominale duur; Noodbrandduur; Bedrijfsduur",
    "central": "Centrale batterij; CB-adres; CB-groep; Centraal noodsysteem; CPS; Noodadres; CPS-adres; Noodgroep; Noodkring; "
               "Batterij; Centrale accu; CB-groep/adres; CPS-groep/adres",
    "central_circuit": "CB-groep; CPS-groep; Noodgroep; Noodkring; CPS-kring; CB-kring",
    "central_address": "CB-armatuuradres; CPS-armatuuradres; Noodadres; CB-adres; CPS-adres",
    "emergency_level_percent": "Noodniveau; Noodlichtniveau; Niveau in nood; Noodlichtstroom",
    "dc_level_percent": "DC-niveau; Niveau op DC; Niveau bij DC",
    "emergency_current_ma": "Noodstroom; Stroom in nood",
    "emergency_power_w": "Noodvermogen; Vermogen in nood",
    "function_test_days": "Functietest; Interval functietest",
    "duration_test_weeks": "Duurtest; Autonomietest; Interval duurtest",
    "test_delay_min": "Testvertraging",
    "prolong_s": "Nalooptijd; Verlengtijd",
    "": "Opmerking; Opmerkingen; Opm; Fabrikant; Merk; Leverancier; Lichtstroom; Hoogte; Montagehoogte; Lengte; Afmetingen; "
        "Datum; Tekening; Tekeningnr; Status; Prijs; Kleur; Montage; Artikelnr; Artikelnummer; Lamp; Gewicht; Optiek; "
        "Kleurweergave; Revisie",
}
