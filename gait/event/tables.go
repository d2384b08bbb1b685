package event

import "gaitwright/gait/track"

// tableSet is what is known of the witnesses of both moments for one kind of
// track.
type tableSet struct {
	of   [2]Table
	rule string // one sentence for the analyst
	note string // a caution, empty where there is none
}

// The four kinds. Their tables are in learned.go.
var (
	spatial = tableSet{of: learnedSpatial,
		rule: "ten rules on ankle, heel, shank, knee and pelvis for initial contact and seven for toe-off, weighted by their errors against force for six runners on a treadmill and one overground"}
	sideVideo = tableSet{of: learnedSideVideo,
		rule: "the rules for markers, weighted by their errors on the landmarks of the pose model against force for two rendered runners"}
	frontal = tableSet{of: learnedFrontal,
		rule: "rules on the height of ankle, knee and pelvis alone, weighted by their errors against force",
		note: "contacts from behind or in front rest on heights alone and are rougher than from the side"}
	rearVideo = tableSet{of: learnedRearVideo,
		rule: "rules on the height of ankle, knee and pelvis alone, weighted by their errors on the landmarks of the pose model against force for two rendered runners",
		note: "contacts from behind or in front rest on heights alone and are rough: use them to find mid-stance, and the side view for times"}
)

// tablesFor picks the tables for what is seen.
func tablesFor(sagittal bool, origin track.Origin) *tableSet {
	video := origin == track.PoseModel || origin == track.Sticker || origin == track.Hand
	switch {
	case sagittal && video:
		return &sideVideo
	case sagittal:
		return &spatial
	case video:
		return &rearVideo
	}
	return &frontal
}
