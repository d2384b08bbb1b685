package body

import "fmt"

// Landmark is an anatomical point whose path can be followed.
type Landmark uint8

// The landmarks. The first NumPose of them are what the pose model sees, in the
// order in which its network puts them out (Bazarevsky et al. 2020, CVPR
// workshop, describe that set of 33); the rest come from stickers or marker
// files alone.
const (
	Nose Landmark = iota
	LeftEyeInner
	LeftEye
	LeftEyeOuter
	RightEyeInner
	RightEye
	RightEyeOuter
	LeftEar
	RightEar
	LeftMouth
	RightMouth
	LeftShoulder
	RightShoulder
	LeftElbow
	RightElbow
	LeftWrist
	RightWrist
	LeftLittleKnuckle
	RightLittleKnuckle
	LeftIndexKnuckle
	RightIndexKnuckle
	LeftThumb
	RightThumb
	LeftHip
	RightHip
	LeftKnee
	RightKnee
	LeftAnkle
	RightAnkle
	LeftHeel
	RightHeel
	LeftToe
	RightToe

	// From here on: stickers and marker files only.
	LeftASIS // anterior superior iliac spine
	RightASIS
	LeftPSIS // posterior superior iliac spine
	RightPSIS
	LeftMT1 // head of the first metatarsal
	RightMT1
	LeftMT5 // head of the fifth metatarsal
	RightMT5
	LeftHeelTop // upper and lower point of the heel-counter line
	RightHeelTop
	LeftHeelBottom
	RightHeelBottom
	LeftShankTop // upper and lower point of the line along the back of the shank
	RightShankTop
	LeftShankBottom
	RightShankBottom
	C7            // seventh cervical spinous process
	Thoracolumbar // T12/L1
	Lumbosacral   // L5/S1
	Sacrum        // midpoint of the posterior spines

	NumLandmarks
)

// NumPose is the number of landmarks the pose model gives; they are the
// landmarks below this value.
const NumPose = LeftASIS

var landmarkNames = [NumLandmarks]string{
	"nose", "left_eye_inner", "left_eye", "left_eye_outer", "right_eye_inner", "right_eye", "right_eye_outer",
	"left_ear", "right_ear", "left_mouth", "right_mouth", "left_shoulder", "right_shoulder", "left_elbow", "right_elbow",
	"left_wrist", "right_wrist", "left_little_knuckle", "right_little_knuckle", "left_index_knuckle", "right_index_knuckle",
	"left_thumb", "right_thumb", "left_hip", "right_hip", "left_knee", "right_knee", "left_ankle", "right_ankle",
	"left_heel", "right_heel", "left_toe", "right_toe",
	"left_asis", "right_asis", "left_psis", "right_psis", "left_mt1", "right_mt1", "left_mt5", "right_mt5",
	"left_heel_top", "right_heel_top", "left_heel_bottom", "right_heel_bottom",
	"left_shank_top", "right_shank_top", "left_shank_bottom", "right_shank_bottom",
	"c7", "thoracolumbar", "lumbosacral", "sacrum",
}

var landmarkByName = func() map[string]Landmark {
	m := make(map[string]Landmark, NumLandmarks)
	for i, n := range landmarkNames {
		m[n] = Landmark(i)
	}
	return m
}()

// String returns the landmark's stable name in snake case, such as "left_knee".
func (l Landmark) String() string {
	if l < NumLandmarks {
		return landmarkNames[l]
	}
	return fmt.Sprintf("landmark(%d)", uint8(l))
}

// MarshalText writes the landmark's name.
func (l Landmark) MarshalText() ([]byte, error) { return []byte(l.String()), nil }

// UnmarshalText reads a landmark's name.
func (l *Landmark) UnmarshalText(b []byte) error {
	v, err := ParseLandmark(string(b))
	if err != nil {
		return err
	}
	*l = v
	return nil
}

// ParseLandmark finds a landmark by its name.
func ParseLandmark(name string) (Landmark, error) {
	if l, ok := landmarkByName[name]; ok {
		return l, nil
	}
	return 0, fmt.Errorf("landmark %q is not known: the names are like left_knee or right_toe; `gaitwright explain landmarks` lists them", name)
}

// Side tells which side the landmark is on; NoSide for points on the midline.
func (l Landmark) Side() Side {
	if l >= NumLandmarks {
		return NoSide
	}
	switch n := landmarkNames[l]; {
	case len(n) > 5 && n[:5] == "left_":
		return Left
	case len(n) > 6 && n[:6] == "right_":
		return Right
	}
	return NoSide
}

var mirrored = func() (m [NumLandmarks]Landmark) {
	for i := range NumLandmarks {
		m[i] = i
		n := landmarkNames[i]
		switch i.Side() {
		case Left:
			m[i] = landmarkByName["right_"+n[5:]]
		case Right:
			m[i] = landmarkByName["left_"+n[6:]]
		}
	}
	return m
}()

// Mirror returns the same point on the other side; midline points are their own
// mirror.
func (l Landmark) Mirror() Landmark { return mirrored[l] }

// On returns the landmark of the pair l belongs to that lies on side s. A
// midline point, or NoSide, returns l itself.
func (l Landmark) On(s Side) Landmark {
	if s == NoSide || l.Side() == NoSide || l.Side() == s {
		return l
	}
	return mirrored[l]
}

// Bone is a line of the drawn skeleton between two landmarks.
type Bone struct{ From, To Landmark }

// Skeleton lists the lines that make up the drawn figure of a runner, trunk
// first, in drawing order. A line whose ends are not both known is left out; the
// first few are for marker files, which know the spines of the pelvis.
var Skeleton = []Bone{
	{LeftASIS, RightASIS}, {LeftPSIS, RightPSIS}, {LeftASIS, LeftPSIS}, {RightASIS, RightPSIS}, {C7, Sacrum},
	{LeftShoulder, RightShoulder}, {LeftHip, RightHip}, {LeftShoulder, LeftHip}, {RightShoulder, RightHip},
	{LeftShoulder, LeftElbow}, {LeftElbow, LeftWrist}, {RightShoulder, RightElbow}, {RightElbow, RightWrist},
	{LeftHip, LeftKnee}, {LeftKnee, LeftAnkle}, {LeftAnkle, LeftHeel}, {LeftHeel, LeftToe}, {LeftAnkle, LeftToe},
	{RightHip, RightKnee}, {RightKnee, RightAnkle}, {RightAnkle, RightHeel}, {RightHeel, RightToe}, {RightAnkle, RightToe},
}
