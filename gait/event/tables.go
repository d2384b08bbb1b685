package event

import (
	"gaitwright/gait/clip"
	"gaitwright/gait/track"
)

// Kind is a kind of track, as far as it decides which witnesses speak and how
// well.
type Kind uint8

// The kinds of track.
const (
	SideMarkers Kind = iota // marker files, with the forward axis
	SideVideo               // landmarks of a picture from the side
	RearMarkers             // marker files without the forward axis
	RearVideo               // landmarks of a picture from behind
	FrontVideo              // landmarks of a picture from in front
	numKinds
)

// The tables themselves are in learned.go.
var tables = [numKinds]tableSet{
	SideMarkers: {of: learnedSideMarkers,
		rule: "nine rules on ankle, heel, shank, knee and pelvis for initial contact and eight for toe-off, weighted by their errors against force for six runners on a treadmill and one overground"},
	SideVideo: {of: learnedSideVideo,
		rule: "the rules for marker files, weighted by their errors against force on the landmarks of the pose model for two rendered runners"},
	RearMarkers: {of: learnedRearMarkers,
		rule: "rules on the heights of ankle, knee and pelvis alone, weighted by their errors against force",
		note: "contacts from behind or in front rest on heights alone and are rougher than from the side"},
	RearVideo:  {of: learnedRearVideo, rule: pictureRule + "behind", note: pictureNote},
	FrontVideo: {of: learnedFrontVideo, rule: pictureRule + "in front", note: pictureNote + ". From in front they were tried on two drawn films only, where mid-stance of one foot came up to 23 ms early"},
}

const (
	pictureRule = "steps by the rise and fall of the pelvis, then rules on the heights of ankle, knee and pelvis, weighted by their errors against force as a camera shows them from "
	pictureNote = "contacts from behind or in front rest on heights alone and are rough: use them to find mid-stance, and the side view for times. On drawn films the method alone made left and right toe-off differ by up to 50 ms: do not read asymmetry of contact or flight time from this view"
)

// tableSet is what is known of the witnesses of both moments for one kind of
// track.
type tableSet struct {
	of   [2]Table
	rule string // one sentence for the analyst
	note string // a caution, empty where there is none
}

// kindOf tells the kind of a track. From the side, keypoints of unknown origin in
// pixels are taken to be as rough as those of the pose model; stickers are followed
// to a fraction of a pixel and sit where markers do. From behind and in front
// every picture has its perspective, whoever found the points.
func kindOf(sagittal bool, view clip.View, origin track.Origin, unit track.Unit) Kind {
	video := origin == track.PoseModel || origin == track.Hand ||
		unit == track.Pixel && (origin == track.MarkerFile || origin == track.NoOrigin)
	switch {
	case sagittal && video:
		return SideVideo
	case sagittal:
		return SideMarkers
	case !video && unit != track.Pixel:
		return RearMarkers
	case view == clip.Front:
		return FrontVideo
	}
	return RearVideo
}

// Learned returns the table in use for a kind of track and a moment.
func Learned(k Kind, m Moment) Table { return tables[k].of[m] }

// Paced tells whether lateness is taken to change with pace: at touch-down, and
// everywhere where forward is not seen. At toe-off from the side the rules drift
// less with pace than a line through three speeds would bend.
func (k Kind) Paced(m Moment) bool { return m == TouchDown || k >= RearMarkers }
