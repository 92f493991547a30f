"""Column numbers of the arrays that the compiled loop reads and writes, in one place."""

(
    WP1, FC1, SAT1, WP2, FC2, SAT2, TEW, REW, CN_DRY, CN_WET, S_DRY, S_WET, POND_MAX, DRAIN_SHARE,
    SUB_DRAIN_SHARE, COUPLING, RISE, SLOW, KC_MAX, RESIDUE, RESIDUE_STRENGTH, COVER_KCB, COVER_SHADE,
    MELT_MM_C_H, SNOW_BELOW_C, STORM_KEEP, HEAT_PER_MJ, HEAT_OFFSET, WARMING_H, DEEP_H, DEEP_PULL,
) = range(31)  # fmt: skip
PARAMETERS = 31

# State of one field in one member: mm, mm, mm, mm, mm, mm, degC, degC, degC-days.
SNOW, POND, SURFACE, SUBSOIL, STORM, RETENTION, SOIL_C, DEEP_C, COVER_GDD = range(9)
STATES = 9

# Totals over the run [mm].
RAIN, RUNOFF, EVAPORATION, TRANSPIRATION, DRAINAGE = range(5)
TOTALS = 5
