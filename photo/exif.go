package photo

import (
	"fmt"
	"io"
	"strings"
	"time"

	"benchleaf/colour"

	"github.com/bep/imagemeta"
)

// exifTags are the tags that are read; others are skipped unparsed.
var exifTags = map[string]bool{
	"Orientation": true, "Make": true, "Model": true,
	"DateTimeOriginal": true, "OffsetTimeOriginal": true, "SubSecTimeOriginal": true,
	"ModifyDate": true, "DateTime": true, "OffsetTime": true,
	"ColorSpace": true, "InteroperabilityIndex": true, "InteropIndex": true,
}

// readTags takes time, camera and orientation from EXIF. A picture without
// them, or with damaged ones, is still a picture: nothing here fails.
func readTags(r io.ReadSeeker, k kind, info *Info) {
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return
	}
	format := map[kind]imagemeta.ImageFormat{
		jpegFile: imagemeta.JPEG, pngFile: imagemeta.PNG, tiffFile: imagemeta.TIFF, heicFile: imagemeta.HEIF,
	}[k]
	found := map[string]string{}
	orientation := 1
	result, err := imagemeta.Decode(imagemeta.Options{
		R: r, ImageFormat: format, Sources: imagemeta.EXIF | imagemeta.CONFIG,
		LimitNumTags: 1000, LimitTagSize: 2000,
		ShouldHandleTag: func(t imagemeta.TagInfo) bool {
			return exifTags[t.Tag] && strings.HasPrefix(t.Namespace, "IFD0")
		},
		HandleTag: func(t imagemeta.TagInfo) error {
			s := strings.TrimSpace(fmt.Sprint(t.Value))
			if t.Tag == "Orientation" {
				fmt.Sscan(s, &orientation)
			} else if _, seen := found[t.Tag]; !seen && len(s) < 200 {
				found[t.Tag] = strings.ToValidUTF8(s, "")
			}
			return nil
		},
	})
	if k == heicFile {
		// HEIC turns its picture by properties of its own, which the decoder
		// obeys; EXIF repeats them for readers that do not know.
		if c := result.ImageConfig; err == nil && c.Width > 0 && c.Height > 0 {
			info.Width, info.Height = c.Width, c.Height
		}
	} else if orientation >= 1 && orientation <= 8 {
		info.Orientation = orientation
	}
	info.Camera = cameraName(found["Make"], found["Model"])
	info.takeTime(found)
	// DCF 2.0: an uncalibrated space with interoperability R03 is Adobe RGB.
	if found["ColorSpace"] == "65535" && (found["InteroperabilityIndex"] == "R03" || found["InteropIndex"] == "R03") {
		info.profile = colour.AdobeRGB()
	}
}

func cameraName(maker, model string) string {
	if maker == "" || strings.HasPrefix(strings.ToLower(model), strings.ToLower(maker)) {
		return model
	}
	return strings.TrimSpace(maker + " " + model)
}

// takeTime reads the time of exposure, or for want of it the time of the file.
// Clocks that were never set write years that cannot be; those are left out.
func (info *Info) takeTime(found map[string]string) {
	stamp, zone := found["DateTimeOriginal"], found["OffsetTimeOriginal"]
	if stamp == "" {
		stamp, zone = found["ModifyDate"], found["OffsetTime"]
		if stamp == "" {
			stamp = found["DateTime"]
		}
	}
	const layout = "2006:01:02 15:04:05"
	if t, err := time.Parse(layout+"-07:00", stamp+zone); err == nil && zone != "" {
		info.Taken, info.TakenKnown, info.TakenZoneKnown = t, true, true
	} else if t, err := time.Parse(layout, stamp); err == nil {
		info.Taken, info.TakenKnown = t, true
	}
	// Digital cameras with EXIF begin in 1995.
	if info.TakenKnown && (info.Taken.Year() < 1995 || info.Taken.Year() > 2200) {
		info.Taken, info.TakenKnown, info.TakenZoneKnown = time.Time{}, false, false
		info.Notes = append(info.Notes, "The camera's clock was not set, so the time of the photograph is unknown.")
	}
}
