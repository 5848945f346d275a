"""Headings of luminaire schedules in English, by field. Common practice, no source."""

from __future__ import annotations

from collections.abc import Mapping

# A heading under several fields has several meanings and is asked. "" holds headings of things that no field keeps.
WORDS: Mapping[str, str] = {
    "reference": "Ref; Ref No; Reference No; Tag; Tag No; Tag Number; Fitting No; Fitting Number; Fitting Ref; Asset Tag; "
                 "Asset ID; Asset No; Luminaire No; Luminaire Number; Luminaire ID; Luminaire Ref; Luminaire Reference; "
                 "Luminaire Tag; Light No; Fixture No; Fixture ID; Fixture Tag; ID; Unique ID; Label; Item Tag; Lum No; "
                 "Lum Ref; No; Number; Item; Item No; Name; Pos; Position; Position No; Luminaire; Mark; Code",
    "type": "Fitting; Fitting Type; Fitting Code; Lum Type; Lum Code; Luminaire Type; Luminaire Code; Type Ref; Type Code; "
            "Type No; Type Reference; Luminaire Type Ref; Fixture; Fixture Type; Fixture Code; Light Type; Light Fitting; "
            "Luminaire; Description; Model; Product; Mark; Code; Name; Item; Pos",
    "quantity": "Qty; Quantity; No off; Number off; Off; Count; Pcs; Pieces; Nos; No of; No of fittings; No of luminaires; "
                "Number of luminaires; Total No; No; Number; Units; Total",
    "place": "Place; Installed at; Where; Location; Position; Mounting position; Location Description",
    "building": "Building; Bldg; Bld; Block; Building Name; Building No; House; Tower; Wing; Site; Area",
    "floor": "Floor; Flr; Level; Lvl; Storey; Story; Floor Level; Floor No; Area; Zone",
    "room": "Room; Room No; Room Number; Rm; Rm No; Room Name; Room Ref; Room ID; Space; Space No; Space Name; Area; Zone; "
            "Location; Room Description",
    "grid": "Grid; Grid Ref; Grid Reference; Gridline; Grid line; Grid Position; Grid Location; Axis; Location; Position; "
            "Coordinates; Pos",
    "board": "Board; DB; DB Ref; DB No; Dist Board; Distribution Board; Distribution; Panel; Panelboard; Board Ref; Board No; "
             "Lighting Panel; LDB; Consumer Unit; Fed from; Feed",
    "circuit": "Circuit; Circuit No; Circuit Number; Circuit Ref; Cct; Cct No; Cct Ref; Ckt; Ckt No; Way; Way No; Cct Way; "
               "Final Circuit; Lighting Circuit; Circuit ID; Breaker; MCB; Fed from; Feed; SC; L; Phase; Line Circuit",
    "power_w": "W; Watts; Watt; Wattage; Load; Power; Circuit Watts; Circuit Power; Lum Power; Luminaire Power; "
               "Luminaire Wattage; Connected Load; Rated Power; System Power; Total Power; Output Power; P; Pout; LED Power",
    "current_ma": "Iout; I out; mA; Current; Drive Current; Driver Current; Output Current; LED Current; Set Current; "
                  "Current Setting; Forward Current; If; I; Operating Current; Module Current; Driver Output Current; "
                  "Driver Setting",
    "voltage_window": "Vf; Vf range; V f; Vout; V out; Uout; Output Voltage; Output Voltage Range; Forward Voltage; "
                      "Forward Voltage Range; Voltage Range; LED Voltage; Module Voltage; Voltage Window; Output Range; U; V; "
                      "V DC; Volts; Voltage; Driver Output Voltage; Vf min max",
    "voltage_min_v": "Vmin; V min; Min Voltage; Minimum Voltage; Vf min; Umin; Min Output Voltage; Min Forward Voltage",
    "voltage_max_v": "Vmax; V max; Max Voltage; Maximum Voltage; Vf max; Umax; Max Output Voltage; Max Forward Voltage",
    "voltage_v": "Constant Voltage; Strip Voltage; CV Output",
    "driver": "Driver; Driver Type; Driver Model; Driver Ref; LED Driver; CG; Control Gear; Controlgear; Gear; Gear Type; "
              "Gear Model; Ballast; Ballast Type; Converter; Power Supply; PSU; ECG; Power Supply Unit",
    "serial": "Serial; Serial No; Serial Number; S/N; SN; Driver Serial; Driver Serial No; Driver S/N",
    "gear": "Duty; Gear Duty; Gear Position; Gear No; Driver Position; Function",
    "supply": "I/P; Supply; Supply Voltage; Mains; Mains Voltage; Input; Input Voltage; Line Voltage; Volts; Voltage; U; V; "
              "Vin; V DC; Uin; V AC; Nominal Voltage; Rated Voltage; Power Supply",
    "protection_class": "Class; Elec Class; Electrical Class; Protection Class; Insulation Class; Appliance Class; "
                        "Class of protection; Safety Class; Class I II III; IEC Class; I",
    "ip": "IP; IP Rating; IP Class; IP Code; Ingress Protection; IP No; IP Degree; Degree of protection",
    "control": "Ctrl; Control; Control Type; Control Method; Control Protocol; Dimming; Dimming Type; Dimming Method; "
               "Protocol; Dim; Dimmable; Lighting Control; Controls; Control System; Interface; Mode; Control Mode; DALI; "
               "Switching; Operation",
    "line": "DALI Line; Line; Line No; Bus; DALI Bus; DALI Loop; Loop; DALI Channel; DALI Universe; Universe; DALI Network; "
            "DALI Controller; Control Line; Control Bus; DALI Line No; DALI; L; Gateway; DALI Gateway; Bus Line; DALI Segment",
    "address": "Address; Addr; Addr No; SA; Short Address; Short Addr; DALI Address; DALI Addr; DALI ID; DALI No; DALI Add; "
               "Control Address; DALI Short Address; Device Address; Ballast Address; ECG Address; DALI; DALI SA",
    "line_address": "Line Address; Line/Addr; Line/Address; DALI Line/Addr; DALI Line/Address; Bus/Address; Bus/Addr; "
                    "DALI Ref; Loop/Address; DALI",
    "groups": "Group; Groups; Grp; Grps; Group No; Groups No; DALI Group; DALI Groups; DALI Grp; Lighting Group; Group(s); "
              "Control Group; Group Membership; Switching Group; Zone; Control Zone; Lighting Zone",
    "scenes": "Scenes; Scene Levels; DALI Scenes; Scene Values; Scene Settings; Scene Setting; Scene",
    "limits": "Dim limits; Dimming limits; Min/Max; Min Max; Min/Max level; Level limits; Dim range; Dimming range; Limits; "
              "Min/Max dim; Min-Max levels; DALI limits; Trim; High/Low Trim; Light level limits",
    "min_level": "Min Level; Min Dim; Minimum Level; Min; Low Trim; Low end; DALI Min; Min Dim Level; Physical Minimum; "
                 "Min Light Level",
    "max_level": "Max Level; Max Dim; Maximum Level; Max; High Trim; High end; DALI Max; Max Dim Level; Dim Level; "
                 "Max Light Level; Light Level; Task tuning",
    "power_on_level": "Power on level; Power up level; POL; Power-on; Power On; Power recovery level; Level at power on",
    "system_failure_level": "System failure level; SFL; Failure level; Bus failure level; Sys fail level; System failure; "
                            "Bus fail level; Fail safe level",
    "fade_time": "Fade time; Fade; Fading time; DALI fade time",
    "fade_rate": "Fade rate; DALI fade rate",
    "extended_fade": "Extended fade; Extended fade time; Ext fade time",
    "curve": "Curve; Dimming curve; Dim curve; DALI curve",
    "coolest_k": "Coolest; Coolest CCT; CCT max; Max CCT; Tc coolest; Tc max; CCT; Colour temp; Color temp; "
                 "Colour temperature; Color temperature",
    "warmest_k": "Warmest; Warmest CCT; CCT min; Min CCT; Tc warmest; Tc min; CCT; Colour temp; Color temp; "
                 "Colour temperature; Color temperature",
    "emergency_mode": "EM; Em; Emer; Emg; M/NM; NM/M; Emergency; Emergency Mode; EM Mode; EM Type; Emergency Type; "
                      "Maintained; Maintained/Non-maintained; Maint/Non-maint; Emergency Lighting; Em Lighting; Mode; "
                      "Operating Mode; Emergency Operation; P; Emergency Function; Operation",
    "emergency_supply": "Emergency supply; EM supply; Emergency source; EM source; Emergency system; Battery type; "
                        "Emergency feed; EM System; Battery",
    "duration": "Dur; Duration; EM Dur; EM Duration; Emergency Duration; Rated Duration; Battery Duration; Hours; Hrs; h; "
                "Autonomy; Run time; Runtime; Emergency time; Backup time; Duration of emergency operation; Emergency Hours; "
                "Battery Hours; Battery Autonomy",
    "duration_min": "Duration in minutes; Duration minutes; Minutes",
    "central": "CBS Addr; CBS Address; CBS; CBS Cct; CBS Ref; Batt Cct/No; Battery Circuit/No; Batt Cct; CB Address; CB Addr; "
               "Central Battery; Central Battery Address; Central Battery Ref; Battery Cct/No; Batt Cct/Addr; SLS Address; "
               "Static inverter; Emergency Address; EM Address; EM Addr; EM Cct; Emergency Cct; Emergency Circuit; "
               "Battery Cct; CB Cct; CB Ref; CBS No; CPS; CPS Address; Battery; CB Cct/Addr; Emergency Address/Circuit",
    "central_circuit": "CBS Circuit; CBS Circuit No; CB Circuit; Central Battery Circuit; Battery Circuit; EM Cct; Batt Cct; "
                       "Emergency Cct; Emergency Circuit; Battery Cct; CBS Cct; CB Cct; CBS Output; CPS Circuit",
    "central_address": "CBS Luminaire Address; CBS Luminaire No; Battery Address; CB Luminaire Address; EM Address; EM Addr; "
                       "Emergency Address; CBS Addr No; CPS Luminaire Address",
    "emergency_level_percent": "Emergency level; EM level; EM output; Emergency output; Emergency output level; EM %; EOFi; "
                               "BLF; Ballast lumen factor; Emergency ballast lumen factor; EBLF",
    "dc_level_percent": "DC level; DC output; DC level setting; Level on DC; DC Light Level; DC operation level",
    "emergency_current_ma": "Emergency current; EM current; Emergency LED current; EM Iout; Battery mode current",
    "emergency_power_w": "Emergency power; EM power; Emergency load; Emergency wattage; EM Watts; EM load",
    "function_test_days": "Function test interval; Functional test interval; Function test; FT interval",
    "duration_test_weeks": "Duration test interval; Duration test; DT interval",
    "test_delay_min": "Test delay; Test delay time",
    "prolong_s": "Prolong time; Prolong; Prolongation time; Run-on time",
    "": "Remarks; Remark; Notes; Note; Comment; Comments; Manufacturer; Supplier; Make; Lumens; Lumen output; Flux; "
        "Luminous flux; lm; CRI; Colour; Color; Finish; Mounting; Mounting height; Mounting Type; Height; Length; L; "
        "Dimensions; Drawing; Drawing No; Drg; Dwg; Rev; Revision; Date; Status; Installed by; Checked; Checked by; "
        "Commissioned; Order No; Part No; Article No; Catalogue No; Cat No; Beam angle; Beam; Optic; Lamp; Lamps; Price; "
        "Cost; Sensor; Photometry; Weight; Efficacy; Cut-out; UGR; Type of mounting; Installed; Tested; Signed; Initials",
}
