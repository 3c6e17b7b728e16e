package photo

import (
	"errors"

	"benchleaf/colour"
)

// chooseProfile decides what the picture's values mean: its own profile when
// that can be evaluated, else sRGB with a note.
func (info *Info) chooseProfile() {
	info.HasICC = len(info.ICC) > 0
	fallback := info.profile // set by a tag that stands in for a profile
	if fallback == nil {
		fallback = colour.SRGB()
	}
	info.profile = fallback
	info.Profile = fallback.Name
	switch {
	case info.ColourModel == "CMYK":
		info.Notes = append(
			info.Notes,
			"The picture holds printing colours (CMYK); they are shown by a rough conversion, and no colour should "+
				"be measured in it.",
		)
		return
	case !info.HasICC:
		return
	}
	p, err := colour.ParseICC(info.ICC)
	switch {
	case errors.Is(err, colour.ErrTableProfile):
		info.Notes = append(
			info.Notes,
			"The picture's colour profile works by tables, which are not evaluated; its values are taken for sRGB.",
		)
	case err != nil:
		info.Notes = append(
			info.Notes,
			"The picture's colour profile could not be used ("+err.Error()+"); its values are taken for sRGB.",
		)
	case p.Grey != (info.ColourModel == "grey"):
		info.Notes = append(
			info.Notes,
			"The picture's colour profile is for another kind of picture; its values are taken for sRGB.",
		)
	default:
		if p.Name == "" {
			p.Name = "unnamed profile"
		}
		info.profile, info.Profile, info.ownProfile = p, p.Name, true
	}
}

// heicPrimaries takes the coded primaries of ITU-T H.273 for a profile: 12 is
// Display P3, the rest of what cameras write is close to sRGB.
func (info *Info) heicPrimaries(code uint16) {
	if code == 12 {
		info.profile = colour.DisplayP3()
	}
}
