// Package chem computes what is in a water: from what was weighed, poured or
// analysed to pH, species, and what falls out.
//
// Nouns. A component is one of the building blocks that all else is written
// in (Ca+2, CO3-2, H3BO3, ...). A species is a dissolved particle made of
// components (CaOH+, HCO3-). A solid is one of those named by the constants of
// type Solids. A Water is a composition: how much of each component a kilogram
// of water holds, and its temperature; it says nothing of pH. A State is a
// Water at equilibrium under Conditions (closed or open to carbon dioxide,
// which solids may fall, which it stands over): pH, species, solids.
//
// Units: degrees Celsius, mol per kg of water (molality), atm for the partial
// pressure of CO2. Amounts per litre are per litre of solution at the water's
// temperature; see Water.LitresPerKg for the volume that is used.
//
// The model is an ion-association model at 1 atm: log K(T) of each species and
// solid from data/*.csv, activity coefficients by the extended Debye-Hueckel
// equation with the species' own parameters, else Davies, and 10^(0.1 I) for
// neutral species without one. It holds from 0 to 50 deg C and up to an ionic
// strength of about 0.5 mol/kg; see MaxIonicStrength for what happens beyond.
// docs/chem.md says how well it reproduces published values.
package chem
