package handout

import (
	"fmt"
	"image"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
)

// ReadQR reads a QR code of the homework out of a picture; empty where none is
// seen in it.
func ReadQR(picture image.Image) (text string) {
	// The picture is anything that a camera saw, and the reader another's.
	defer func() {
		if recover() != nil {
			text = ""
		}
	}()
	bitmap, err := gozxing.NewBinaryBitmapFromImage(picture)
	if err != nil {
		return ""
	}
	found, err := qrcode.NewQRCodeReader().Decode(bitmap, map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true})
	if err != nil || !isCode(found.GetText()) {
		return ""
	}
	return found.GetText()
}

// isCode tells whether a text is a code of the homework, whole or a part.
func isCode(text string) bool {
	var k, n int
	_, err := fmt.Sscanf(text, "GW2:%d/%d:", &k, &n)
	return err == nil || len(text) > 4 && text[:4] == "GW1:"
}
