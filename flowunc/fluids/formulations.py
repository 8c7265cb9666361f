"""Published coefficients of the property formulations: numbers only, coherent SI."""

from __future__ import annotations

from typing import Final

# -- Liquid water at 0.1 MPa [IAPWS SR6-08], valid 253.15 K to 383.15 K --------------------
WATER_GAS_CONSTANT: Final = 461.51805  # R, J/(kg K), section 2
WATER_REFERENCE_TEMPERATURE: Final = 10.0  # T_R, K
WATER_REFERENCE_PRESSURE: Final = 1.0e5  # p_0, Pa
WATER_POLE_ABOVE: Final = 593.0  # T_a, K: alpha = T_R / (T_a - T)
WATER_POLE_BELOW: Final = 232.0  # T_b, K: beta = T_R / (T - T_b)

# v_0 = R T_R / p_0 (a_5 + sum a_i alpha^n_i + sum b_i beta^m_i), eq. 2 with the tables of a, b,
# n and m: a_6 .. a_10, b_5 .. b_10. All dimension one.
WATER_VOLUME_CONSTANT: Final = 1.93763157e-2  # a_5
WATER_VOLUME_ALPHA: Final = {  # exponent n_i: a_i
    4: 6.74458446e3,
    5: -2.22521604e5,
    7: 1.00231247e8,
    8: -1.63552118e9,
    9: 8.32299658e9,
}
WATER_VOLUME_BETA: Final = {  # exponent m_i: b_i
    1: 5.78545292e-3,
    2: -1.53195665e-2,
    3: 3.11337859e-2,
    4: -4.23546241e-2,
    5: 3.38713507e-2,
    6: -1.19946761e-2,
}

# mu = 1 uPa s * sum a_i (T / 300 K)^b_i, eq. 7
WATER_VISCOSITY_TEMPERATURE: Final = 300.0  # K
WATER_VISCOSITY_TERMS: Final = (  # (a_i in Pa s, b_i)
    (280.68e-6, -1.9),
    (511.45e-6, -7.7),
    (61.131e-6, -19.6),
    (0.45903e-6, -40.0),
)

# What the formulations leave open, relative.
WATER_DENSITY_STANDARD: Final = 1.0e-6  # [IAPWS R6-95] near 0.1 MPa, from memory; taken as u
WATER_VISCOSITY_STANDARD: Final = 5.0e-3  # 1 % at k = 2 [IAPWS R12-08], from memory

# Tap water against pure water without air, relative half-width. Salts: 0.6 g/kg of sea salt
# raises the density by 0.046 % at 20 degC (computed from [IAPWS R13-08]). Air: saturation lowers
# it by 0.0003 % (from memory). 0.1 MPa more pressure: 0.005 %.
TAP_WATER_LIMITS: Final = 5.0e-4

# -- Moist air [CIPM-2007]: Picard et al., Metrologia 45 (2008) 149; coefficients from memory -----
# Valid 600 hPa to 1100 hPa and 15 degC to 27 degC; T in K, t in degC, p in Pa.
AIR_SATURATION: Final = (1.2378847e-5, -1.9121316e-2, 33.93711047, -6.3431645e3)  # A B C D, A1.1
AIR_ENHANCEMENT: Final = (1.00062, 3.14e-8, 5.6e-7)  # alpha, beta, gamma, A1.2
AIR_COMPRESSIBILITY_A: Final = (1.58123e-6, -2.9331e-8, 1.1043e-10)  # a_0 a_1 a_2, A1.4
AIR_COMPRESSIBILITY_B: Final = (5.707e-6, -2.051e-8)  # b_0 b_1
AIR_COMPRESSIBILITY_C: Final = (1.9898e-4, -2.376e-6)  # c_0 c_1
AIR_COMPRESSIBILITY_D: Final = 1.83e-11
AIR_COMPRESSIBILITY_E: Final = -0.765e-8
AIR_MOLAR_MASS_OVER_R: Final = 3.483740e-3  # kg K/J, at a CO2 mole fraction of 0.0004
AIR_CARBON_DIOXIDE_SLOPE: Final = 1.4446e-3  # kg K/J per mole fraction
AIR_CARBON_DIOXIDE_REFERENCE: Final = 0.0004
AIR_ONE_MINUS_MOLAR_MASS_RATIO: Final = 0.3780  # 1 - M_v / M_a
AIR_FORMULATION_STANDARD: Final = 2.2e-5  # relative, of the equation itself

# Mole fraction of CO2 in a room: outdoor air (0.0004) to a badly aired lecture room (0.001).
AIR_CARBON_DIOXIDE: Final = (0.0007, 0.0003)  # estimate, half-width

# -- Normal gravity of the ellipsoid WGS 84, formula of Somigliana [WGS 84] -----------------------
GRAVITY_EQUATOR: Final = 9.7803253359  # m/s2
GRAVITY_SOMIGLIANA: Final = 0.00193185265241  # k
GRAVITY_ECCENTRICITY_SQUARED: Final = 0.00669437999013  # e^2
GRAVITY_GRADIENT: Final = -3.086e-6  # 1/s2, free air, from memory
GRAVITY_ANOMALY_STANDARD: Final = 2.0e-4  # m/s2, from memory: anomalies reach some 5e-4
GRAVITY_HEIGHT_LIMITS: Final = 500.0  # m, either way, where the height was not given
