"""Land, trees and plantings, and the parents that seed was taken of."""
