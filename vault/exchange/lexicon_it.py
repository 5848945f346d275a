"""Headings of luminaire schedules in Italian, by field. Common practice, no source."""

from __future__ import annotations

from collections.abc import Mapping

# A heading under several fields has several meanings and is asked. "" holds headings of things that no field keeps.
WORDS: Mapping[str, str] = {
    "reference": "Riferimento; Rif; Rif apparecchio; N apparecchio; N° apparecchio; Codice apparecchio; Sigla; "
                 "Sigla apparecchio; Identificativo; Targhetta; N° corpo illuminante; Numero; N°; Apparecchio; Codice; "
                 "Posizione; Pos; Denominazione; Etichetta",
    "type": "Tipo; Tipologia; Tipo apparecchio; Tipo di apparecchio; Tipo lampada; Apparecchio; Modello; Codice; Descrizione; "
            "Corpo illuminante; Tipo corpo illuminante; Denominazione",
    "quantity": "Q.tà; Quantità; Qta; N pezzi; Pezzi; Pz; Numero apparecchi; N° apparecchi; Totale; Numero; N°",
    "place": "Posizione; Luogo; Ubicazione; Collocazione; Luogo di installazione",
    "building": "Edificio; Ed; Fabbricato; Blocco; Palazzina; Corpo; Ala; Zona; Area",
    "floor": "Piano; Livello; P; Liv; Zona",
    "room": "Locale; N° locale; Stanza; N° stanza; Ambiente; Vano; Nome locale; Zona; Area; Numero locale; Sala",
    "grid": "Asse; Assi; Griglia; Maglia; Coordinate; Posizione; Rif griglia; Pos",
    "board": "Quadro; Quadro elettrico; QE; Sottoquadro; Q.E.; Quadro di zona; Quadro di piano; Alimentato da",
    "circuit": "Circuito; N° circuito; Linea; Interruttore; Circuito luce; Linea elettrica; Fase; Circ; Protezione",
    "power_w": "Potenza; Pot; P; Potenza nominale; Potenza assorbita; Potenza totale; Potenza apparecchio; Potenza LED; "
               "Potenza installata; Potenza di uscita",
    "current_ma": "Corrente; Corrente di uscita; Corrente LED; Corrente di pilotaggio; I uscita; Iusc; Corrente nominale; "
                  "Corrente impostata; Corrente uscita; I out",
    "voltage_window": "Tensione diretta; Tensione di uscita; Tensione LED; Campo di tensione; U uscita; Vusc; "
                      "Tensione uscita; Tensione; Campo Vf; Intervallo di tensione",
    "voltage_min_v": "Tensione min; Tensione minima",
    "voltage_max_v": "Tensione max; Tensione massima",
    "voltage_v": "Tensione costante",
    "driver": "Alimentatore; Driver; Reattore; Alimentatore LED; Tipo alimentatore; Convertitore; Alim; Ballast",
    "serial": "N° di serie; N serie; Numero di serie; Matricola; N° matricola",
    "gear": "Funzione",
    "supply": "Alimentazione; Rete; Tensione di rete; Tensione di alimentazione; Tensione; Ingresso; Tensione nominale; "
              "Tensione di ingresso; Tensione alimentazione",
    "protection_class": "Classe; Classe di isolamento; Classe di protezione; Cl; Classe isolamento; Classe elettrica",
    "ip": "Grado IP; Grado di protezione; IP; Protezione IP",
    "control": "Controllo; Comando; Regolazione; Dimmerazione; Protocollo; Tipo di comando; Tipo di controllo; Dimmer; "
               "Gestione; Modo; Modalità; Accensione",
    "line": "Linea; Linea DALI; Bus; Bus DALI; N° linea; Canale DALI; Linea bus; Gateway DALI",
    "address": "Indirizzo; Ind; Indirizzo DALI; Indirizzo breve; Ind DALI; Indir; Indirizzo driver",
    "line_address": "Linea/indirizzo; Linea/ind; Bus/indirizzo",
    "groups": "Gruppo; Gruppi; Gruppo DALI; Gruppi DALI; Gr; N° gruppo; Gruppo/i; Zona",
    "scenes": "Scene; Scenari; Scenario; Scena; Scene DALI",
    "limits": "Limiti; Min/max; Limiti di regolazione; Campo di regolazione; Limiti dimmer",
    "min_level": "Livello min; Livello minimo; Minimo; Min",
    "max_level": "Livello max; Livello massimo; Massimo; Max",
    "power_on_level": "Livello all'accensione; Livello di accensione",
    "system_failure_level": "Livello di guasto; Livello guasto sistema; Livello guasto bus",
    "fade_time": "Tempo di dissolvenza; Dissolvenza; Tempo di fade",
    "fade_rate": "Velocità di dissolvenza; Velocità di regolazione",
    "extended_fade": "Tempo di dissolvenza esteso",
    "curve": "Curva; Curva di regolazione; Curva di dimmerazione",
    "coolest_k": "Temperatura più fredda; Temperatura di colore max; Temperatura di colore",
    "warmest_k": "Temperatura più calda; Temperatura di colore min; Temperatura di colore",
    "emergency_mode": "Emergenza; SA/SE; SE/SA; Tipo emergenza; Permanente/non permanente; Modo; Modalità; "
                      "Illuminazione di emergenza; Modalità emergenza; Illuminazione di sicurezza; Sicurezza",
    "emergency_supply": "Alimentazione di emergenza; Sorgente di emergenza; Tipo alimentazione emergenza; Batteria",
    "duration": "Autonomia; Durata; Ore; Durata autonomia; Autonomia nominale; Durata nominale",
    "central": "Soccorritore; Batteria centrale; Indirizzo CB; Circuito CB; Batteria centralizzata; Indirizzo soccorritore; "
               "Circuito emergenza; Indirizzo emergenza; Circuito/indirizzo CB; CPSS; Batteria",
    "central_circuit": "Circuito batteria centrale; Circuito soccorritore; Circuito CB; Circuito emergenza",
    "central_address": "Indirizzo batteria centrale; Indirizzo emergenza; Indirizzo CB; Indirizzo soccorritore",
    "emergency_level_percent": "Livello di emergenza; Livello emergenza; Flusso in emergenza",
    "dc_level_percent": "Livello DC; Livello in c.c.; Livello in corrente continua",
    "emergency_current_ma": "Corrente di emergenza; Corrente emergenza",
    "emergency_power_w": "Potenza di emergenza; Potenza emergenza",
    "function_test_days": "Test funzionale; Prova di funzionamento",
    "duration_test_weeks": "Test di autonomia; Prova di autonomia",
    "test_delay_min": "Ritardo test",
    "prolong_s": "Tempo di prolungamento",
    "": "Note; Nota; Osservazioni; Produttore; Costruttore; Marca; Flusso; Flusso luminoso; Altezza; Lunghezza; Dimensioni; "
        "Data; Tavola; Disegno; Stato; Prezzo; Colore; Installazione; Montaggio; Fornitore; Articolo; Ottica; Peso; Lampada; "
        "Rev",
}
