package app

func readKeypoints(path string) (*Clip, error) {
	return nil, problem(KindNoResult, path, "", "keypoint files are not read yet")
}
