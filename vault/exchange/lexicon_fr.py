"""Headings of luminaire schedules in French, by field. Common practice, no source."""

from __future__ import annotations

from collections.abc import Mapping

# A heading under several fields has several meanings and is asked. "" holds headings of things that no field keeps.
WORDS: Mapping[str, str] = {
    "reference": "Repère; Rep; Repère luminaire; N° luminaire; N° de luminaire; Num luminaire; Référence luminaire; Réf; "
                 "Réf luminaire; Identifiant; Étiquette; Repérage; Code luminaire; N°; Numéro; Désignation; Nom; Luminaire; "
                 "Référence; N° repère; Appareil; Pos; Position; Code; Ident",
    "type": "Type lum; Type luminaire; Type de luminaire; Type d'appareil; Désignation; Luminaire; Modèle; Référence; "
            "Appareil; Code type; Réf type; Description; Type d'éclairage; Code luminaire; Type app; Réf",
    "quantity": "Qté; Quantité; Nb; Nbre; Nombre; Nb luminaires; Nombre de luminaires; Qte; Total; Nombre d'appareils; N°",
    "place": "Emplacement; Lieu; Localisation; Situation; Implantation; Position; Lieu d'installation",
    "building": "Bât; Bâtiment; Bat; Immeuble; Bloc; Aile; Site; Zone; Tour; Hall; Corps de bâtiment; Secteur",
    "floor": "Niveau; Étage; Niv; Ét; Plancher; Zone",
    "room": "Local; N° local; N° de local; Numéro de local; Nom du local; Pièce; Salle; N° salle; N° pièce; Espace; Zone; "
            "Localisation; Désignation local; Code local",
    "grid": "Axe; Axes; Trame; File; Files; Quadrillage; Coordonnées; Repère axe; Position; Localisation; Implantation; "
            "Repère de trame; File/Axe; Pos",
    "board": "Tableau; Armoire; TD; Tableau divisionnaire; Coffret; TGBT; Tableau électrique; Armoire électrique; Tab; "
             "Tableau de distribution; N° tableau; Origine; TD éclairage; Alimentation; Arm",
    "circuit": "Circuit; N° circuit; Départ; Dép; N° départ; Circuit électrique; Circ; Disjoncteur; Disj; Protection; "
               "N° de circuit; Circuit d'éclairage; Ligne; Phase; Circuit terminal",
    "power_w": "Puiss; Puissance; Puissance unitaire; P; Puissance totale; Puissance absorbée; Puissance nominale; "
               "Puissance installée; Puissance luminaire; Puissance système; Puissance LED; Puissance de sortie",
    "current_ma": "I sortie; Courant; Courant LED; Courant de sortie; Courant sortie; Courant d'alimentation; Intensité; "
                  "Courant de pilotage; Is; Courant réglé; Courant direct; Réglage courant; Courant driver; "
                  "Intensité de sortie; Courant de réglage; Courant nominal",
    "voltage_window": "Tension directe; Plage Vf; Plage de tension; Tension de sortie; Tension sortie; Tension LED; Us; "
                      "U sortie; Tension; Plage de tension de sortie; Vf; Plage tension; Tension module",
    "voltage_min_v": "Tension min; Tension minimale; U mini; Vf min",
    "voltage_max_v": "Tension max; Tension maximale; U maxi; Vf max",
    "voltage_v": "Tension constante",
    "driver": "Alim; Alimentation; Appareillage; Driver; Convertisseur; Ballast; Alimentation LED; Platine; Type driver; "
              "Ballast électronique; Type d'alimentation; Transfo; Transformateur; Driver LED; Appareillage d'alimentation",
    "serial": "N° de série; N° série; Numéro de série; Num série",
    "gear": "Fonction; Rôle; Fonction de l'appareillage",
    "supply": "Réseau; Tension alim; Tension d'alimentation; Tension réseau; Tension; Alimentation; Secteur; Entrée; "
              "Tension d'entrée; Alim; Tension nominale; Ue",
    "protection_class": "Classe; Cl; Classe électrique; Classe de protection; Classe d'isolation; Classe d'isolement; "
                        "Classe élec",
    "ip": "Indice IP; IP; Indice de protection; Degré IP; Degré de protection; IP/IK",
    "control": "Gradation; Commande; Pilotage; Type de commande; Type de gradation; Protocole; Gestion; Mode de commande; "
               "Mode; Gestion d'éclairage; Variation; Mode de gradation; Allumage",
    "line": "Ligne; Bus DALI; Ligne DALI; N° ligne; N° de ligne; N° bus; Boucle; Boucle DALI; Canal DALI; Bus; Ligne bus; "
            "Passerelle DALI; Segment DALI",
    "address": "Adresse; Adr DALI; Adresse DALI; Adr; N° DALI; Adresse courte; Adresse ballast; Adresse driver; Adresse bus; "
               "Adr courte",
    "line_address": "Ligne/adresse; Ligne/adr; Bus/adresse; Bus/adr; Ligne/adresse DALI; Repère DALI",
    "groups": "Groupe; Groupes; Gpe; Gpes; Grpe; Gr; Groupe DALI; Groupes DALI; N° groupe; Groupe(s); Groupe d'allumage; Zone",
    "scenes": "Scènes; Scène; Scénarios; Scénario; Ambiances; Niveaux de scène; Scènes DALI",
    "limits": "Mini/maxi; Min/max; Bornes; Limites; Plage de gradation; Seuils; Limites de gradation; Bornes de gradation; "
              "Plage gradation; Niveaux mini/maxi",
    "min_level": "Mini; Niveau mini; Niveau min; Min; Niveau minimum; Seuil bas; Gradation mini; Min DALI",
    "max_level": "Maxi; Niveau maxi; Niveau max; Max; Niveau maximum; Seuil haut; Gradation maxi; Max DALI",
    "power_on_level": "Niveau à la mise sous tension; Niveau d'allumage; Mise sous tension; Niveau au retour secteur",
    "system_failure_level": "Niveau de défaut; Niveau défaut système; Niveau défaut bus; Défaut système; Niveau sur défaut bus",
    "fade_time": "Temps de fondu; Durée de fondu; Temps de transition; Fondu",
    "fade_rate": "Vitesse de gradation; Vitesse de fondu; Vitesse de variation",
    "extended_fade": "Temps de fondu étendu; Fondu étendu",
    "curve": "Courbe; Courbe de gradation",
    "coolest_k": "Température la plus froide; Tc max; Température de couleur max; Température de couleur; T° couleur; Teinte",
    "warmest_k": "Température la plus chaude; Tc min; Température de couleur min; Température de couleur; T° couleur; Teinte",
    "emergency_mode": "Secours; Mode; P/NP; NP/P; Permanent/Non permanent; Mode secours; Type de secours; "
                      "Éclairage de secours; Éclairage de sécurité; Permanent; Sécurité; Mode de fonctionnement; BAES; "
                      "Type BAES; EDS",
    "emergency_supply": "Source de secours; Alimentation de secours; Type de source; Alimentation secours; Source; Batterie; "
                        "Source de sécurité; Autonome/centralisé",
    "duration": "Autonomie; Durée; Durée d'autonomie; Durée assignée; Autonomie nominale; Durée de secours; Heures; "
                "Durée de fonctionnement; Durée nominale; Durée autonomie",
    "central": "Source centr; Source centrale; Source centralisée; Départ SC; Adresse source centrale; Dép SC; SC; "
               "Circuit SC; Adresse secours; LSC; Adr SC; Circuit/adresse SC; Départ/adresse SC; Batterie centrale; "
               "N° secours; Circuit secours; Adresse SC; Adresse sécurité; Batterie; Départ source centrale",
    "central_circuit": "Circuit source centrale; Circuit de secours; Circuit SC; Départ SC; Dép SC; Circuit secours; "
                       "Départ source centrale",
    "central_address": "Adresse luminaire SC; Adresse secours; Adr SC; Adresse SC; Adresse sécurité",
    "emergency_level_percent": "Niveau de secours; Niveau secours; Flux de secours; Niveau en secours",
    "dc_level_percent": "Niveau DC; Niveau en courant continu; Niveau sous DC",
    "emergency_current_ma": "Courant de secours; Courant secours; Courant en secours",
    "emergency_power_w": "Puissance de secours; Puissance secours; Puissance en secours",
    "function_test_days": "Test de fonctionnement; Test fonctionnel; Intervalle test fonctionnel",
    "duration_test_weeks": "Test d'autonomie; Test de durée; Intervalle test d'autonomie",
    "test_delay_min": "Retard de test; Délai de test",
    "prolong_s": "Temporisation de retour; Temps de prolongation; Prolongation",
    "": "Remarque; Remarques; Observation; Observations; Obs; Commentaire; Commentaires; Fabricant; Marque; Fournisseur; "
        "Flux; Flux lumineux; Hauteur; Longueur; Dimensions; Plan; N° plan; Date; Indice; Statut; État; Prix; Prix unitaire; "
        "Article; Couleur; IRC; Pose; Type de pose; Montage; Lampe; Source lumineuse; Optique; Poids; Installateur; IK; Lot",
}
