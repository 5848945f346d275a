"""Headings of luminaire schedules in Spanish, by field. Common practice, no source."""

from __future__ import annotations

from collections.abc import Mapping

# A heading under several fields has several meanings and is asked. "" holds headings of things that no field keeps.
WORDS: Mapping[str, str] = {
    "reference": "Referencia; Ref luminaria; N° luminaria; Nº luminaria; Núm luminaria; Número de luminaria; "
                 "Código luminaria; Identificador; Identificación; Etiqueta; Nº; Número; Luminaria; Código; Posición; Pos; "
                 "Denominación; Id luminaria",
    "type": "Tipo; Tipo luminaria; Tipo de luminaria; Tipología; Luminaria; Modelo; Código; Descripción; Denominación; "
            "Tipo de aparato; Cód tipo",
    "quantity": "Cant; Cantidad; Cdad; Ud; Uds; Unidades; Nº unidades; Nº luminarias; Número de luminarias; Total; Nº; Número",
    "place": "Ubicación; Emplazamiento; Lugar; Situación; Posición; Localización",
    "building": "Edificio; Edif; Bloque; Torre; Ala; Zona; Área; Nave",
    "floor": "Planta; Piso; Nivel; Pl; Zona",
    "room": "Sala; Local; Habitación; Estancia; Recinto; Dependencia; Nº sala; Nº local; Nombre de sala; Zona; Área; Ubicación",
    "grid": "Eje; Ejes; Cuadrícula; Retícula; Trama; Coordenadas; Posición; Localización; Pos",
    "board": "Cuadro; Cuadro eléctrico; Cuadro secundario; Subcuadro; CS; Tablero; Cuadro de distribución; Alimentado desde",
    "circuit": "Circuito; Nº circuito; Circ; Línea; Circuito de alumbrado; Interruptor; Línea eléctrica; Fase; Salida; "
               "Protección",
    "power_w": "Potencia; Pot; P; Potencia nominal; Potencia instalada; Potencia total; Potencia luminaria; Potencia LED; "
               "Vatios; Potencia unitaria; Potencia de salida",
    "current_ma": "Corriente; Corriente de salida; Corriente LED; Intensidad; I salida; Isal; Intensidad de salida; "
                  "Corriente de alimentación; Corriente salida; Corriente ajustada; Corriente nominal",
    "voltage_window": "Tensión directa; Tensión de salida; Tensión LED; Rango de tensión; U salida; Vsal; Tensión salida; "
                      "Tensión; Rango Vf; Voltaje; Voltaje de salida; Margen de tensión",
    "voltage_min_v": "Tensión mín; Tensión mínima",
    "voltage_max_v": "Tensión máx; Tensión máxima",
    "voltage_v": "Tensión constante",
    "driver": "Driver; Equipo; Equipo auxiliar; Fuente; Fuente de alimentación; Balasto; Reactancia; Tipo de driver; "
              "Convertidor; Equipo electrónico; Driver LED",
    "serial": "Nº de serie; Nº serie; Núm de serie; Número de serie",
    "gear": "Función",
    "supply": "Alimentación; Red; Tensión de red; Tensión de alimentación; Tensión; Entrada; Tensión nominal; Voltaje; "
              "Tensión de entrada; Tensión alimentación; Fuente de alimentación",
    "protection_class": "Clase; Clase eléctrica; Clase de protección; Clase de aislamiento; Cl",
    "ip": "Grado IP; Grado de protección; IP; Índice de protección; Índice IP",
    "control": "Control; Regulación; Mando; Protocolo; Tipo de control; Tipo de regulación; Gestión; Modo; Encendido; "
               "Atenuación",
    "line": "Línea; Línea DALI; Bus; Bus DALI; Nº línea; Canal DALI; Bucle; Bucle DALI; Línea bus; Pasarela DALI",
    "address": "Dirección; Dir; Dirección DALI; Dir DALI; Dirección corta; Direc; Direcc DALI",
    "line_address": "Línea/dirección; Línea/dir; Bus/dirección",
    "groups": "Grupo; Grupos; Grupo DALI; Grupos DALI; Gr; Nº grupo; Grupo(s); Zona",
    "scenes": "Escenas; Escena; Escenas DALI; Escenarios",
    "limits": "Límites; Mín/máx; Límites de regulación; Rango de regulación; Rango regulación",
    "min_level": "Nivel mín; Nivel mínimo; Mínimo; Mín",
    "max_level": "Nivel máx; Nivel máximo; Máximo; Máx",
    "power_on_level": "Nivel de encendido; Nivel al encender; Nivel de arranque",
    "system_failure_level": "Nivel de fallo; Nivel fallo de sistema; Nivel fallo de bus; Nivel de fallo del sistema",
    "fade_time": "Tiempo de fundido; Fundido; Tiempo de transición",
    "fade_rate": "Velocidad de fundido; Velocidad de regulación",
    "extended_fade": "Tiempo de fundido extendido",
    "curve": "Curva; Curva de regulación",
    "coolest_k": "Temperatura más fría; Temperatura de color máx; Temperatura de color",
    "warmest_k": "Temperatura más cálida; Temperatura de color mín; Temperatura de color",
    "emergency_mode": "Emergencia; Permanente/no permanente; P/NP; Tipo emergencia; Modo; Modo emergencia; "
                      "Alumbrado de emergencia; Modo de emergencia; Tipo de emergencia; Seguridad",
    "emergency_supply": "Alimentación de emergencia; Fuente de emergencia; Batería; Tipo de alimentación de emergencia",
    "duration": "Autonomía; Duración; Horas; Autonomía nominal; Duración asignada; Duración nominal",
    "central": "Batería central; Batería centralizada; Dirección BC; Circuito BC; Circuito emergencia; Dirección emergencia; "
               "Batería; Circuito/dirección BC; Dirección batería central",
    "central_circuit": "Circuito batería central; Circuito de emergencia; Circuito BC; Circuito emergencia",
    "central_address": "Dirección luminaria BC; Dirección emergencia; Dirección BC; Dirección batería central",
    "emergency_level_percent": "Nivel de emergencia; Nivel emergencia; Flujo en emergencia",
    "dc_level_percent": "Nivel DC; Nivel en c.c.; Nivel en corriente continua",
    "emergency_current_ma": "Corriente de emergencia; Corriente emergencia",
    "emergency_power_w": "Potencia de emergencia; Potencia emergencia",
    "function_test_days": "Prueba de funcionamiento; Test de funcionamiento; Test funcional",
    "duration_test_weeks": "Prueba de autonomía; Test de autonomía; Prueba de duración",
    "test_delay_min": "Retardo de prueba",
    "prolong_s": "Tiempo de prolongación",
    "": "Observaciones; Notas; Nota; Comentarios; Fabricante; Marca; Flujo; Flujo luminoso; Altura; Longitud; Dimensiones; "
        "Fecha; Plano; Nº plano; Estado; Precio; Color; Montaje; Instalación; Proveedor; Artículo; Óptica; Peso; Lámpara; "
        "Rev; Partida",
}
