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

# dv/dp at p_0 and constant T = R T_R / p_0^2 (sum a_i alpha^n_i + sum b_i beta^m_i), same tables:
# a_11 .. a_15, b_11 .. b_17. All dimension one.
WATER_COMPRESSION_ALPHA: Final = {  # exponent n_i: a_i
    1: -7.5245878e-6,
    3: -1.3767418e-2,
    5: 1.0627293e1,
    6: -2.0457795e2,
    7: 1.2037414e3,
}
WATER_COMPRESSION_BETA: Final = {  # exponent m_i: b_i
    1: -3.1091470e-6,
    3: 2.8964919e-5,
    4: -1.3112763e-4,
    5: 3.0410453e-4,
    6: -3.9034594e-4,
    7: 2.3403117e-4,
    9: -4.8510101e-5,
}
WATER_COMPRESSION_CHANGE: Final = 3.24e-10  # d2v/dp2 in units of R T_R / p_0^3

# mu = 1 uPa s * sum a_i (T / 300 K)^b_i, eq. 7
WATER_VISCOSITY_TEMPERATURE: Final = 300.0  # K
WATER_VISCOSITY_TERMS: Final = (  # (a_i in Pa s, b_i)
    (280.68e-6, -1.9),
    (511.45e-6, -7.7),
    (61.131e-6, -19.6),
    (0.45903e-6, -40.0),
)

# ln(p_s / p_c) = T_c / T sum c_i theta^e_i, theta = 1 - T / T_c [IAPWS SR1-86, eq. 1], from memory,
# checked against the iapws package
WATER_CRITICAL_TEMPERATURE: Final = 647.096  # T_c, K
WATER_CRITICAL_PRESSURE: Final = 22.064e6  # p_c, Pa
WATER_SATURATION: Final = (  # (c_i, e_i)
    (-7.85951783, 1.0),
    (1.84408259, 1.5),
    (-11.7866497, 3.0),
    (22.6807411, 3.5),
    (-15.9618719, 4.0),
    (1.80122502, 7.5),
)

# What the formulations leave open, relative.
WATER_DENSITY_STANDARD: Final = 1.0e-6  # [IAPWS R6-95] near 0.1 MPa, from memory; taken as u
WATER_VISCOSITY_STANDARD: Final = 5.0e-3  # 1 % at k = 2 [IAPWS R12-08], from memory

# Half-width of what 1 MPa in place of 0.1 MPa does to the viscosity: -0.112 % at 0 degC,
# -0.027 % at 20 degC, +0.087 % at 100 degC (computed from [IAPWS R12-08]).
WATER_VISCOSITY_PRESSURE_LIMITS: Final = 1.2e-3

# Tap water against pure water without air, relative half-width. Salts: 0.6 g/kg of sea salt
# raises the density by 0.046 % at 20 degC (computed from [IAPWS R13-08]). Air: saturation lowers
# it by 0.0003 % (from memory). 0.1 MPa more pressure: 0.005 %.
TAP_WATER_LIMITS: Final = 5.0e-4

# -- Seawater at 0.1 MPa; t in degC --------------------------------------------------------------
# rho = rho_w + A S + B S^1.5 + C S^2 in kg/m3, S practical salinity [UNESCO 44]; from memory,
# checked against [IAPWS R13-08]. A and B are polynomials in t, lowest power first.
SEAWATER_DENSITY_A: Final = (8.24493e-1, -4.0899e-3, 7.6438e-5, -8.2467e-7, 5.3875e-9)
SEAWATER_DENSITY_B: Final = (-5.72466e-3, 1.0227e-4, -1.6546e-6)
SEAWATER_DENSITY_C: Final = 4.8314e-4
SEAWATER_PRACTICAL_PER_FRACTION: Final = 35.0 / 35.16504e-3  # reference salinity [IAPWS R13-08]
# Relative half-width: 3.6e-6 standard error of the fit, below 1e-5 from [IAPWS R13-08], the rest
# for the mixture of salts, which differs between seas by some 0.02 kg/m3 (from memory).
SEAWATER_DENSITY_LIMITS: Final = 5.0e-5
# mu = mu_w (1 + A S + B S^2), S mass fraction [Sharqawy 2010, eq. 22]; from memory.
SEAWATER_VISCOSITY_A: Final = (1.541, 1.998e-2, -9.52e-5)
SEAWATER_VISCOSITY_B: Final = (7.974, -7.561e-2, 4.724e-4)
SEAWATER_VISCOSITY_LIMITS: Final = 1.5e-2  # relative, as published

# -- Glycerol and water; t in degC, w mass fraction of glycerol -----------------------------------
# Viscosities in Pa s [Cheng 2008]; from memory, checked against [Segur 1951].
# mu = mu_w^a mu_g^(1-a), a = 1 - w + A B w (1 - w)/(A w + B (1 - w)); mu_w and mu_g have the form
# m exp((p + q t) t/(r + s t)) with (m, p, q, r, s):
GLYCEROL_WATER_VISCOSITY: Final = (1.790e-3, -1230.0, -1.0, 36100.0, 360.0)
GLYCEROL_VISCOSITY: Final = (12.100, -1233.0, 1.0, 9900.0, 70.0)
GLYCEROL_EXPONENT_A: Final = (0.705, -0.0017)
GLYCEROL_EXPONENT_B: Final = (4.9, 0.036, 2.5)  # (4.9 + 0.036 t) A^2.5
# Relative half-width. Published: 2.3 % on average (from memory); [Segur 1951] is met within 4 %.
GLYCEROL_VISCOSITY_LIMITS: Final = 5.0e-2
# Density of glycerol, kg/m3, and the gain on mixing c sin(pi w^1.31)^0.81 [Volk 2018]; from memory.
GLYCEROL_DENSITY: Final = (1273.3, -0.6121)
GLYCEROL_CONTRACTION: Final = (1.41e-2, -1.82e-4, 1.78e-6)
GLYCEROL_CONTRACTION_EXPONENTS: Final = (1.31, 0.81)
# Relative half-width. Published: 0.07 % for 15 degC to 30 degC (from memory). CoolProp's two fits
# of measured mixtures up to w = 0.6 are met within 0.05 % and 0.14 % from 0 degC to 39 degC.
GLYCEROL_DENSITY_LIMITS: Final = 1.5e-3

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

# -- Gauge liquids at 20 degC: density in kg/m3, its relative half-width, cubic expansion in 1/K,
# its relative half-width, temperature range in degC. All from memory unless noted.
GAUGE_MERCURY: Final = (13545.9, 5.0e-4, 1.812e-4, 0.01, 0.0, 50.0)  # clean, not distilled
GAUGE_ETHANOL: Final = (790.5, 2.6e-3, 1.08e-3, 0.05, 0.0, 40.0)  # at least 99.5 % by volume
# Kerosene: 775 kg/m3 to 840 kg/m3 at 15 degC [ASTM D1655]; 0.7 kg/m3 less per kelvin.
GAUGE_KEROSENE: Final = (804.0, 4.2e-2, 9.0e-4, 0.15, 0.0, 40.0)
GAUGE_TEMPERATURE: Final = (20.0, 10.0)  # degC and half-width, where it was not measured

# -- Normal gravity of the ellipsoid WGS 84, formula of Somigliana [WGS 84] -----------------------
GRAVITY_EQUATOR: Final = 9.7803253359  # m/s2
GRAVITY_SOMIGLIANA: Final = 0.00193185265241  # k
GRAVITY_ECCENTRICITY_SQUARED: Final = 0.00669437999013  # e^2
GRAVITY_GRADIENT: Final = -3.086e-6  # 1/s2, free air, from memory
GRAVITY_ANOMALY_STANDARD: Final = 2.0e-4  # m/s2, from memory: anomalies reach some 5e-4
GRAVITY_HEIGHT_LIMITS: Final = 500.0  # m, either way, where the height was not given
